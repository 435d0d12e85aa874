//! Exposure series: changes are as large as drawn, what does not change does not, and faults and slips are what they are called.

#![expect(
    clippy::float_cmp,
    reason = "what does not change is the same to the last bit"
)]

use masstone_simulator::{Course, Fault, Place, Series, Split, Wear, ciede2000};

const SEEDS: std::ops::Range<u64> = 0..4;

fn draw(seed: u64, fault: Fault) -> Series {
    Series::draw(Split::Study, seed, fault, 6, 4)
}

#[test]
fn every_change_reaches_its_target() {
    let mut targets = Vec::new();
    for seed in SEEDS {
        for fault in [Fault::None, Fault::Leak, Fault::Drift] {
            let series = draw(seed, fault);
            let reached = series.delta_e(series.last());
            for (i, change) in series.changes.iter().enumerate() {
                assert!(reached[i] <= 12.0 + 1e-6, "{fault:?} {i}: {}", reached[i]);
                if let Some(target) = change.target.filter(|it| *it > 0.0) {
                    let off = (reached[i] - target).abs();
                    assert!(off < 1e-4, "{fault:?} {i}: {} is not {target}", reached[i]);
                    targets.push(target);
                }
            }
        }
    }
    let share = |from: f64, to: f64| targets.iter().filter(|it| (from..to).contains(*it)).count();
    let few = targets.len() / 10;
    assert!(share(0.0, 1.5) > few && share(1.5, 5.0) > few && share(5.0, 12.0) > few);
}

#[test]
fn about_a_quarter_does_not_change_at_all() {
    let (mut unchanged, mut all) = (0_u32, 0_u32);
    for seed in SEEDS {
        let series = draw(seed, Fault::None);
        let before = series.labs(0.0);
        let after: Vec<_> = series.doses.iter().map(|it| series.labs(*it)).collect();
        for (i, change) in series.changes.iter().enumerate() {
            all += 1;
            if change.course == Course::None {
                unchanged += 1;
                assert!(after.iter().all(|it| it[i] == before[i]), "patch {i}");
                assert!(series.change(series.last())[i] == [0.0; 3]);
            }
            // Under a sound mask nothing ever does.
            assert!(after.iter().all(|it| it[i][0] == before[i][0]), "patch {i}");
        }
    }
    assert!((0.15..0.35).contains(&(f64::from(unchanged) / f64::from(all))));
}

#[test]
fn halves_differ_before_any_sun() {
    let series = draw(1, Fault::None);
    let apart = series.labs(0.0);
    let mean =
        apart.iter().map(|[m, e]| ciede2000(*m, *e)).sum::<f64>() / f64::from(count(&series));
    assert!((0.1..3.0).contains(&mean), "{mean}");
}

fn count(series: &Series) -> u32 {
    u32::try_from(series.changes.len()).expect("a board has few patches")
}

#[test]
fn courses_grow_from_nothing_to_all() {
    let courses = [
        Course::Linear,
        Course::Plateau { rate: 4.0 },
        Course::Power { exponent: 0.5 },
        Course::SlowStart { start: 0.4 },
    ];
    for course in courses {
        assert!(course.share(0.0).abs() < 1e-12 && (course.share(1.0) - 1.0).abs() < 1e-12);
        let shares: Vec<f64> = (0..=30)
            .map(|i| course.share(f64::from(i) / 20.0))
            .collect();
        assert!(shares.is_sorted(), "{course:?}");
    }
    // By hand: (1 − e⁻²)/(1 − e⁻⁴), √0.5; before the stabiliser is used up less than a tenth of what linear were.
    let close = |course: Course, by_hand: f64| (course.share(0.5) - by_hand).abs() < 1e-6;
    assert!(close(courses[1], 0.880_797) && close(courses[2], 0.5_f64.sqrt()));
    assert!(courses[3].share(0.2) < 0.02);
}

#[test]
fn one_mask_leaks() {
    for seed in SEEDS {
        let series = draw(seed, Fault::Leak);
        let leak = series.leak.unwrap();
        let (before, after) = (series.labs(0.0), series.labs(series.last()));
        for i in 0..series.changes.len() {
            assert_eq!(before[i][0] != after[i][0], i == leak.patch, "patch {i}");
        }
        let [masked, exposed] = series.wear(leak.patch, series.last());
        assert!((0.33..=0.67).contains(&leak.share));
        assert_eq!(masked, exposed.scaled(leak.share));
        // The sun's change is told as if the mask were sound.
        let sun = series.delta_e(series.last())[leak.patch];
        assert!((sun - series.changes[leak.patch].target.unwrap_or(sun)).abs() < 1e-4);
    }
}

#[test]
fn all_halves_drift() {
    for seed in SEEDS {
        let series = draw(seed, Fault::Drift);
        let drift = series.drift.unwrap();
        let (before, after) = (series.labs(0.0), series.labs(series.last()));
        let moved = |half: usize, i: usize| ciede2000(before[i][half], after[i][half]);
        let all = 0..series.changes.len();
        let mean = all.clone().map(|i| moved(0, i)).sum::<f64>() / f64::from(count(&series));
        assert!((1.5..=3.0).contains(&mean) && (mean - drift.target).abs() < 1e-4);
        // It is yellower, and the sun alone is told.
        for i in all.filter(|i| series.changes[*i].course == Course::None) {
            assert!(after[i][0][2] > before[i][0][2] && moved(1, i) > 0.0);
            assert!(series.delta_e(series.last())[i] < 0.35, "patch {i}");
        }
        assert_eq!(series.wear(0, 0.0), [Wear::default(); 2]);
    }
}

#[test]
fn a_photo_shows_what_the_series_says() {
    let series = draw(2, Fault::Leak);
    let exposure = 4;
    let labs = series.labs(series.doses[exposure]);
    for shot in series.shots(exposure) {
        let scene = shot.build();
        let truth = scene.truth(scene.stored_size(800));
        let told: Vec<_> = labs.iter().flatten().copied().collect();
        assert_eq!(
            truth.patches.iter().map(|it| it.lab).collect::<Vec<_>>(),
            told
        );
    }
}

#[test]
fn each_exposure_has_a_light_and_a_phone_of_its_own() {
    let series = draw(3, Fault::None);
    let mut lights = Vec::new();
    for exposure in 0..series.doses.len() {
        let shots = series.shots(exposure);
        assert!((1..=4).contains(&shots.len()));
        assert!(
            shots
                .iter()
                .all(|it| it.light == shots[0].light && it.camera == shots[0].camera)
        );
        assert!(
            shots
                .windows(2)
                .all(|it| it[0].shot_seed != it[1].shot_seed)
        );
        lights.push((shots[0].light, shots[0].camera.clone()));
    }
    for i in 1..lights.len() {
        assert!(
            lights[..i].iter().all(|it| *it != lights[i]),
            "exposure {i}"
        );
    }
}

#[test]
fn the_panel_file_names_both_controls_and_stays() {
    for seed in SEEDS {
        let series = draw(seed, Fault::None);
        let file = |spec: &masstone_simulator::SceneSpec| spec.layout.toml("wood");
        let text = file(&series.spec);
        assert!(
            text.contains("control = \"clear\"\n")
                && text.contains("control = \"clear-on-white\"\n")
        );
        assert!(text.contains("masked = "));
        assert_eq!(text, file(&series.turned(3)));
        for shot in series.shots(2) {
            assert_eq!(text, file(&shot));
        }
    }
}

/// On bare wood the clear control is wood-coloured, on the inert white near white; both yellow.
#[test]
fn controls_show_the_coating() {
    let series = draw(1, Fault::None);
    let index = |on_white: bool| {
        let recipes = series.spec.layout.recipes.iter().flatten();
        let mut all = recipes.enumerate();
        all.find(|(_, it)| it.pigments.is_empty() && it.on_white == on_white)
            .unwrap()
            .0
    };
    let (before, after) = (series.labs(0.0), series.labs(series.last()));
    let white = index(true);
    assert!(before[white][0][0] > 85.0, "{:?}", before[white]);
    assert!(after[white][1][2] > before[white][1][2]);
    assert_eq!(
        series.changes[white].last.yellowing,
        series.changes[index(false)].last.yellowing
    );
}

#[test]
fn a_turned_board_lies_the_other_way_up() {
    let (mut beside, mut upright) = (false, false);
    for seed in 0..12 {
        let series = draw(seed, Fault::None);
        let (right, turned) = (&series.shots(3)[0], series.turned(3));
        let layout = &turned.layout;
        let card = &layout.cards[0];
        if card.place == Place::Anywhere {
            upright = true;
            assert!(layout.upright && (turned.pose.turn - 180.0).abs() < 20.0);
            continue;
        }
        beside = true;
        for k in 0..2 {
            let middle = layout.board[k] / 2.0 - layout.first[k];
            let both = f64::midpoint(card.centre[k], right.layout.cards[0].centre[k]);
            // Both are laid by hand.
            assert!((both - middle).abs() < 8.0, "{both} {middle}");
        }
    }
    assert!(beside && upright, "both witnesses were drawn");
}

#[test]
fn another_board_has_the_layout_and_other_colours() {
    let series = draw(0, Fault::None);
    let (own, other) = (&series.shots(3)[0], series.other_board(3));
    let patches = |spec: &masstone_simulator::SceneSpec| {
        let scene = spec.build();
        scene.truth(scene.stored_size(800)).patches
    };
    let (own_patches, others) = (patches(own), patches(&other));
    assert_eq!(own_patches.len(), others.len());
    let apart: Vec<f64> = own_patches
        .iter()
        .zip(&others)
        .map(|(a, b)| ciede2000(a.lab, b.lab))
        .collect();
    let far = apart.iter().filter(|it| **it > 5.0).count();
    assert!(far * 2 > apart.len(), "{apart:?}");
    assert_eq!(own.layout.pitch, other.layout.pitch);
}
