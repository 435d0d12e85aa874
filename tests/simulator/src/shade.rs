//! What light comes from a place of the scene, in balanced camera RGB.

use crate::field::Fall;
use crate::layout::{CardShape, Layout, Side, Xy};
use crate::random::smooth_noise;
use crate::scene::Scene;
use crate::spec::{ClutterKind, Table, Trouble};
use crate::surface::single;
use crate::texture::{Texture, fold, grain_at};

/// What one picture needs beside the scene.
pub(crate) struct Shader<'a> {
    scene: &'a Scene,
    /// Camera position, mm; height positive.
    camera: [f32; 3],
    fields: [Fall; 2],
    share: f32,
    boards: Vec<[f32; 2]>,
    half_extent: f32,
    seed: u32,
    texture: Texture,
    table_seed: u32,
    wobble: f32,
    grid_count: usize,
    sizes: Sizes,
    cards: Vec<(Frame, Sizes)>,
    items: Vec<Frame>,
    highlights: Vec<Frame>,
    shadows: Vec<Frame>,
}

/// Sizes of a grid in single precision.
struct Sizes {
    outer: [f32; 2],
    first: [f32; 2],
    patch: [f32; 2],
    pitch: [f32; 2],
    rows: usize,
    columns: usize,
}

impl Sizes {
    fn of_card(shape: &CardShape) -> Self {
        Self {
            outer: shape.outer.map(single),
            first: shape.first.map(single),
            patch: shape.patch.map(single),
            pitch: shape.pitch.map(single),
            rows: shape.rows,
            columns: shape.columns,
        }
    }

    fn of_panel(layout: &Layout) -> Self {
        Self {
            outer: layout.board.map(single),
            first: layout.first.map(single),
            patch: layout.patch.map(single),
            pitch: layout.pitch.map(single),
            rows: layout.rows,
            columns: layout.columns,
        }
    }
}

/// A turned frame of reference.
struct Frame {
    at: [f32; 2],
    sin: f32,
    cos: f32,
}

impl Frame {
    fn new(at: Xy, degrees: f64) -> Self {
        let (sin, cos) = single(degrees.to_radians()).sin_cos();
        Self {
            at: at.map(single),
            sin,
            cos,
        }
    }

    /// A place in it.
    #[inline]
    fn local(&self, place: [f32; 2]) -> [f32; 2] {
        let (x, y) = (place[0] - self.at[0], place[1] - self.at[1]);
        [self.cos * x + self.sin * y, self.cos * y - self.sin * x]
    }
}

/// Coverage of a pixel by an axis-parallel rectangle from (0, 0).
#[inline]
fn inside(x: f32, y: f32, w: f32, h: f32, px: f32) -> f32 {
    let near = |v: f32, size: f32| (v.min(size - v) / px + 0.5).clamp(0.0, 1.0);
    near(x, w) * near(y, h)
}

/// Adds what a layer shows and dims what is below it.
struct Layers {
    sum: [f32; 3],
    left: f32,
}

impl Layers {
    #[inline]
    fn add(&mut self, cover: f32, colour: [f32; 3]) {
        let part = cover * self.left;
        for (sum, value) in self.sum.iter_mut().zip(colour) {
            *sum += part * value;
        }
        self.left -= part;
    }
}

impl<'a> Shader<'a> {
    pub(crate) fn new(scene: &'a Scene, camera: [f64; 3]) -> Self {
        let spec = &scene.spec;
        let extent = spec.layout.extent();
        let centre = [single(extent[0] / 2.0), single(extent[1] / 2.0)];
        let half_extent = single(extent[0].max(extent[1]) / 2.0);
        let second = spec.second.as_ref();
        let boards = match spec.trouble {
            Trouble::NoPanel => Vec::new(),
            Trouble::TwoPanels => vec![[0.0, 0.0], scene.second_board().map(single)],
            _ => vec![[0.0, 0.0]],
        };
        Self {
            scene,
            camera: [single(camera[0]), single(camera[1]), single(-camera[2])],
            fields: [
                Fall::new(&spec.field, centre, half_extent),
                Fall::new(second.map_or(&spec.field, |it| &it.2), centre, half_extent),
            ],
            share: second.map_or(0.0, |it| single(it.1)),
            boards,
            half_extent,
            seed: scene.texture_seed(),
            texture: Texture::new(&scene.spec),
            table_seed: fold(spec.table_seed),
            wobble: single(spec.wobble),
            grid_count: scene.cells.iter().flatten().count(),
            sizes: Sizes::of_panel(&spec.layout),
            cards: scene
                .cards
                .iter()
                .map(|it| {
                    (
                        Frame::new(it.placed.centre, it.placed.angle),
                        Sizes::of_card(&it.placed.kind.shape()),
                    )
                })
                .collect(),
            items: scene
                .items
                .iter()
                .map(|it| Frame::new(it.shape.centre, it.shape.angle))
                .collect(),
            highlights: spec
                .highlights
                .iter()
                .map(|it| Frame::new(it.at, it.angle))
                .collect(),
            shadows: spec
                .shadows
                .iter()
                .map(|it| Frame::new(it.through, it.towards))
                .collect(),
        }
    }

    /// The place at a height above the board's plane on the ray through `ground`.
    #[inline]
    fn at_height(&self, ground: [f32; 2], height: f32) -> [f32; 2] {
        let share = height / self.camera[2];
        [
            ground[0] + (self.camera[0] - ground[0]) * share,
            ground[1] + (self.camera[1] - ground[1]) * share,
        ]
    }

    /// Light at a place: main and second.
    fn light(&self, place: [f32; 2]) -> [f32; 2] {
        let mut main = self.fields[0].at(place) * (1.0 - self.share);
        for (shadow, frame) in self.scene.spec.shadows.iter().zip(&self.shadows) {
            let [across, _] = frame.local(place);
            let bend = 8.0 * smooth_noise(place[0] / 120.0, place[1] / 120.0, self.seed ^ 0x5ad);
            let t = ((across + bend) / single(shadow.soft_mm).max(0.5) * 1.2 + 0.5).clamp(0.0, 1.0);
            main *= 1.0 - (1.0 - single(shadow.left)) * t * t * (3.0 - 2.0 * t);
        }
        let second = if self.share > 0.0 {
            self.fields[1].at(place) * self.share
        } else {
            0.0
        };
        [main, second]
    }

    /// Balanced camera RGB from the ray through `ground` (a place on the board's plane), where a pixel covers `px` mm.
    pub(crate) fn shade(&self, ground: [f32; 2], px: f32) -> [f32; 3] {
        let light = self.light(ground);
        let mut layers = Layers {
            sum: [0.0; 3],
            left: 1.0,
        };
        for index in 0..self.cards.len() {
            self.card(&mut layers, index, ground, px, light);
        }
        for origin in &self.boards {
            if layers.left > 0.002 {
                self.board(
                    &mut layers,
                    [ground[0] - origin[0], ground[1] - origin[1]],
                    px,
                    light,
                );
            }
        }
        if layers.left > 0.002 {
            let place = self.at_height(ground, -single(self.scene.spec.thickness));
            for index in 0..self.items.len() {
                self.item(&mut layers, index, place, px, light);
            }
            if layers.left > 0.002 {
                layers.add(1.0, self.table(place, px, light));
            }
        }
        self.gloss(&mut layers, ground, light);
        layers.sum
    }

    fn gloss(&self, layers: &mut Layers, place: [f32; 2], light: [f32; 2]) {
        for (spot, frame) in self.scene.spec.highlights.iter().zip(&self.highlights) {
            let [x, y] = frame.local(place);
            let (u, v) = (x / single(spot.size[0]), y / single(spot.size[1]));
            let r2 = u * u + v * v;
            if r2 < 20.0 {
                let amount = single(spot.peak) * (-0.5 * r2).exp();
                let [main, second] = &self.scene.specular;
                for (c, sum) in layers.sum.iter_mut().enumerate() {
                    *sum += amount * (light[0] * main[c] + light[1] * second[c]);
                }
            }
        }
    }

    fn card(&self, layers: &mut Layers, index: usize, ground: [f32; 2], px: f32, light: [f32; 2]) {
        let card = &self.scene.cards[index];
        let (frame, sizes) = &self.cards[index];
        let outer = sizes.outer;
        let place = self.at_height(ground, single(card.placed.height));
        let [x, y] = frame.local(place);
        let (u, v) = (x + outer[0] / 2.0, y + outer[1] / 2.0);
        let cover = inside(u, v, outer[0], outer[1], px);
        if cover <= 0.0 {
            return;
        }
        let (patch, pitch, first) = (sizes.patch, sizes.pitch, sizes.first);
        let (column, x) = nearest(u - first[0], patch[0], pitch[0], sizes.columns);
        let (row, y) = nearest(v - first[1], patch[1], pitch[1], sizes.rows);
        let touching = pitch[0] - patch[0] < 0.01 && sizes.rows == 1;
        let zone = &card.zones[row * sizes.columns + column];
        let share = if touching {
            1.0
        } else {
            inside(x, y, patch[0], patch[1], px)
        };
        layers.add(cover, card.frame.mix(zone, share, light, 0.0, 0.0));
    }

    fn board(&self, layers: &mut Layers, place: [f32; 2], px: f32, light: [f32; 2]) {
        let layout = &self.scene.spec.layout;
        let (first, size) = (self.sizes.first, self.sizes.outer);
        let cover = inside(
            place[0] + first[0],
            place[1] + first[1],
            size[0],
            size[1],
            px,
        );
        if cover <= 0.0 {
            return;
        }
        let uneven = self.texture.at(place[0], place[1], px);
        let (patch, pitch) = (self.sizes.patch, self.sizes.pitch);
        let (column, x) = nearest(place[0], patch[0], pitch[0], layout.columns);
        let (row, y) = nearest(place[1], patch[1], pitch[1], layout.rows);
        let [x_edge, y_edge] = self.wobbled([x, y], place, patch, px);
        let index = self.scene.cells[row * layout.columns + column];
        let share = if index.is_some() {
            inside(x_edge, y_edge, patch[0], patch[1], px)
        } else {
            0.0
        };
        let exposed = exposed_share(layout.masked, [x, y], patch, px);
        let mut colour = [0.0; 3];
        if share < 1.0 {
            let [masked, open] = &self.scene.substrate;
            colour = masked.mix(open, exposed, light, uneven.0, uneven.1);
        }
        if let Some(index) = index {
            self.patch(&mut colour, index, share, exposed, light, uneven);
        }
        for index in self.grid_count..self.scene.patches.len() {
            let off = &self.scene.patches[index];
            let (x, y) = (place[0] - single(off.at[0]), place[1] - single(off.at[1]));
            let size = off.size.map(single);
            let exposed = exposed_share(layout.masked, [x, y], size, px);
            self.patch(
                &mut colour,
                index,
                inside(x, y, size[0], size[1], px),
                exposed,
                light,
                uneven,
            );
        }
        layers.add(cover, colour);
    }

    /// A place in a patch, moved as its hand-laid edge runs; only near an edge does it matter.
    fn wobbled(&self, [x, y]: [f32; 2], place: [f32; 2], [w, h]: [f32; 2], px: f32) -> [f32; 2] {
        let amount = 2.0 * self.wobble;
        let reach = amount + px;
        let near = |v: f32, size: f32| v.abs() < reach || (v - size).abs() < reach;
        if amount <= 0.0 || !(near(x, w) || near(y, h)) {
            return [x, y];
        }
        [
            x + amount * smooth_noise(place[1] / 9.0, place[0] / 40.0, self.seed ^ 0xed6e),
            y + amount * smooth_noise(place[0] / 9.0, place[1] / 40.0, self.seed ^ 0xe16e),
        ]
    }

    #[inline]
    fn patch(
        &self,
        colour: &mut [f32; 3],
        index: usize,
        share: f32,
        exposed: f32,
        light: [f32; 2],
        (m, g): (f32, f32),
    ) {
        if share > 0.0 {
            let patch = &self.scene.patches[index];
            let own = patch.seen[0].mix(&patch.seen[1], exposed, light, m, g);
            for (below, own) in colour.iter_mut().zip(own) {
                *below += (own - *below) * share;
            }
        }
    }

    fn item(&self, layers: &mut Layers, index: usize, place: [f32; 2], px: f32, light: [f32; 2]) {
        let item = &self.scene.items[index];
        let shape = &item.shape;
        let [w, h] = shape.size.map(single);
        let [x, y] = self.items[index].local(place);
        if x * x + y * y > w * w + h * h {
            return;
        }
        let (u, v) = (x + w / 2.0, y + h / 2.0);
        let lit = |i: usize| item.colours[i.min(item.colours.len() - 1)].lit(light, 0.0, 0.0);
        match shape.kind {
            ClutterKind::Round => {
                let r = (u - w / 2.0).hypot(v - w / 2.0);
                layers.add(
                    ((w / 2.0 - r) / px + 0.5).clamp(0.0, 1.0),
                    lit(usize::from(r < w * 0.4)),
                );
            }
            ClutterKind::Row => {
                let (index, local) = nearest(u, h, w / 6.0, 6);
                layers.add(inside(local, v, h.min(w / 6.4), h, px), lit(index));
            }
            ClutterKind::Paper => {
                let line = v / 9.0;
                let written = (line.fract() - 0.5).abs() < 0.12
                    && u > 0.1 * w
                    && u < 0.9 * w
                    && smooth_noise(u / 4.0, line.floor() * 7.0, self.seed) > 0.0;
                layers.add(inside(u, v, w, h, px), lit(usize::from(written)));
            }
            ClutterKind::Swatch | ClutterKind::CardLike | ClutterKind::Stick => {
                layers.add(
                    inside(u, v, w, h, px),
                    lit(usize::from(
                        shape.kind == ClutterKind::Stick && u > 0.85 * w,
                    )),
                );
            }
        }
    }

    fn table(&self, place: [f32; 2], px: f32, light: [f32; 2]) -> [f32; 3] {
        let spec = &self.scene.spec;
        let seed = self.table_seed;
        let [x, y] = place;
        let broad = smooth_noise(x / 90.0, y / 90.0, seed);
        let g = match spec.table {
            Table::Wood => {
                let plank = (y / 95.0).floor();
                let gap = ((y / 95.0).fract() - 0.5).abs() > 0.49;
                grain_at(x + 900.0 * plank, y, seed, px) + if gap { 1.0 } else { 0.0 }
            }
            Table::Cloth => {
                ((x * 1.9).sin() + (y * 1.9).sin()) * 0.6 + smooth_noise(x / 3.0, y / 3.0, seed)
            }
            Table::Concrete => {
                1.2 * smooth_noise(x / 20.0, y / 20.0, seed ^ 1)
                    + 1.2 * smooth_noise(x / 3.0, y / 3.0, seed ^ 2)
            }
            Table::Grass => {
                let turn = 3.0 * smooth_noise(x / 12.0, y / 12.0, seed ^ 3);
                let (s, c) = turn.sin_cos();
                2.2 * smooth_noise((c * x + s * y) / 14.0, (c * y - s * x) / 2.0, seed ^ 4)
            }
            Table::Plain => broad,
        };
        let mut dim = 1.0;
        for origin in &self.boards {
            dim *= self.board_shadow([x - origin[0], y - origin[1]]);
        }
        self.scene
            .table
            .lit([light[0] * dim, light[1] * dim], broad, g)
    }

    /// The board's own shadow on the table.
    fn board_shadow(&self, place: [f32; 2]) -> f32 {
        let soft = single(self.scene.spec.thickness).max(2.0) * 1.2;
        let (first, size) = (self.sizes.first, self.sizes.outer);
        let away = soft * 0.5;
        1.0 - 0.55
            * inside(
                place[0] + first[0] - away,
                place[1] + first[1] - away,
                size[0],
                size[1],
                soft * 2.0,
            )
    }

    /// Half the larger side of the grid, mm.
    pub(crate) fn half_extent(&self) -> f32 {
        self.half_extent
    }
}

/// The nearest of `count` patches along one axis, and the place relative to its start.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "clamped to a small count"
)]
fn nearest(x: f32, patch: f32, pitch: f32, count: usize) -> (usize, f32) {
    let index = ((x - patch / 2.0) / pitch)
        .round()
        .clamp(0.0, count as f32 - 1.0) as usize;
    (index, x - pitch * index as f32)
}

/// Share of the exposed half at a place within a patch.
#[inline]
fn exposed_share(masked: Option<Side>, [x, y]: [f32; 2], [w, h]: [f32; 2], px: f32) -> f32 {
    let beyond = |t: f32| (t / px + 0.5).clamp(0.0, 1.0);
    match masked {
        None => 0.0,
        Some(Side::Left) => beyond(x - w / 2.0) + beyond(-x),
        Some(Side::Right) => beyond(w / 2.0 - x) + beyond(x - w),
        Some(Side::Top) => beyond(y - h / 2.0) + beyond(-y),
        Some(Side::Bottom) => beyond(h / 2.0 - y) + beyond(y - h),
    }
    .min(1.0)
}
