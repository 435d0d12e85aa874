//! Rows on simulated shelves.

use super::films::Stand;
use super::films::asked::{self, LeftOut};
use super::films::figures::{Case, Figures, Kind};
use super::table::Table;
use masstone::mix::fit;
use masstone_simulator::{FilmGround, ShelfPlan, Split};

/// Fewest cases of a kind that tell whether 90–98 % are inside: its standard error is then 2 %.
const ENOUGH: usize = 100;
/// How many of the worst are listed.
const WORST: usize = 12;

/// Mixtures that are measured, three and then six: every pigment in one, then in two. Of each pigment a third of its limit.
const MEASURED: [[usize; 2]; 6] = [[0, 1], [2, 3], [4, 5], [1, 2], [3, 4], [0, 5]];
const SHARE: f64 = 1.0 / 3.0;

/// What one shelf was asked for.
#[derive(Debug, Default)]
pub(crate) struct Asked {
    left_out: LeftOut,
    pale: Vec<Case>,
    below: Vec<Case>,
    above: Vec<Case>,
    pairs: Vec<Case>,
    triples: Vec<Case>,
    /// The other pairs, with none, the first three or all six of [`MEASURED`] measured.
    after: [Vec<Case>; 3],
    amounts: Vec<Case>,
    one_load: Vec<Case>,
    one_load_pairs: Vec<Case>,
    two_grounds: Vec<Case>,
    two_grounds_amounts: Vec<Case>,
}

impl Asked {
    /// Shelf number `index`: two to five loads, in turn; `apart`: as if the photos' errors were each patch's own.
    pub(crate) fn of(split: Split, seed: u64, index: u64, apart: bool) -> Self {
        let plan = ShelfPlan {
            pigments: 6,
            loads: [4, 3, 5, 2][usize::try_from(index % 4).unwrap_or(0)],
            grounds: 1,
        };
        let larch = FilmGround::Larch;
        let draw = |plan| {
            let mut stand = Stand::draw(split, seed, plan);
            if apart {
                stand.take_apart();
            }
            stand
        };
        let stand = draw(plan);
        let model = fit(&stand.trials).expect("a shelf's trials are sound");
        let ask = |films: &[_]| asked::predicted(&stand, &model, films);
        let mut one = stand.with_one_load();
        if apart {
            one.take_apart();
        }
        let of_one = fit(&one.trials).expect("a shelf's trials are sound");
        let ask_one = |films: &[_]| asked::predicted(&one, &of_one, films);
        // On white, too: what hides and what only tints is told apart.
        let both = draw(ShelfPlan {
            pigments: 4,
            grounds: 2,
            ..plan
        });
        let of_both = fit(&both.trials).expect("a shelf's trials are sound");
        let ask_both = |films: &[_]| asked::predicted(&both, &of_both, films);
        let others = asked::but(asked::pairs(&stand, larch), &MEASURED);
        let after = [0, 3, 6].map(|count| {
            let mut more = stand.with_mixtures(&MEASURED[..count], SHARE);
            if apart {
                more.take_apart();
            }
            let model = fit(&more.trials).expect("a shelf's trials are sound");
            asked::predicted(&more, &model, &others)
        });
        let white = FilmGround::White;
        let mut on_both = asked::pairs(&both, larch);
        on_both.extend(asked::pairs(&both, white));
        let mut amounts = asked::other_amounts(&both, larch);
        amounts.extend(asked::other_amounts(&both, white));
        Self {
            left_out: asked::left_out(&stand),
            pale: ask(&asked::pale(&stand)),
            below: ask(&asked::below(&stand)),
            above: ask(&asked::above(&stand)),
            pairs: ask(&asked::pairs(&stand, larch)),
            triples: ask(&asked::triples(&stand)),
            after,
            amounts: ask(&asked::other_amounts(&stand, larch)),
            one_load: ask_one(&asked::other_loads(&one)),
            one_load_pairs: ask_one(&asked::pairs(&one, larch)),
            two_grounds: ask_both(&on_both),
            two_grounds_amounts: ask_both(&amounts),
        }
    }
}

/// Whether a film is of a kind.
type Is = fn(&Kind) -> bool;

/// All rows.
pub(crate) fn rows(table: &mut Table, all: &[Asked], list: bool) {
    let gather = |of: fn(&Asked) -> &Vec<Case>| -> Vec<Case> {
        all.iter().flat_map(|it| of(it).iter().cloned()).collect()
    };
    let between = gather(|it| &it.left_out.between);
    let pairs = gather(|it| &it.pairs);
    let triples = gather(|it| &it.triples);
    for (what, cases, goal, rival) in [
        (
            "loads left out, between others and the clear coating",
            &between,
            Some(1.5),
            true,
        ),
        ("half the lowest load", &gather(|it| &it.pale), None, true),
        (
            "highest loads left out",
            &gather(|it| &it.left_out.above),
            None,
            false,
        ),
        (
            "a third of the lowest load",
            &gather(|it| &it.below),
            None,
            true,
        ),
        (
            "twice the highest load",
            &gather(|it| &it.above),
            None,
            false,
        ),
        ("two-pigment mixtures, never shown", &pairs, Some(3.0), true),
        ("three-pigment mixtures, never shown", &triples, None, true),
        (
            "nine pairs, no mixture measured",
            &gather(|it| &it.after[0]),
            None,
            true,
        ),
        (
            "the same pairs after three mixtures of others",
            &gather(|it| &it.after[1]),
            None,
            true,
        ),
        (
            "the same pairs after six mixtures of others",
            &gather(|it| &it.after[2]),
            None,
            true,
        ),
        (
            "half and twice the grams",
            &gather(|it| &it.amounts),
            None,
            false,
        ),
        (
            "one load alone: other loads",
            &gather(|it| &it.one_load),
            None,
            false,
        ),
        (
            "one load alone: two-pigment mixtures",
            &gather(|it| &it.one_load_pairs),
            None,
            true,
        ),
        (
            "two grounds: two-pigment mixtures",
            &gather(|it| &it.two_grounds),
            Some(3.0),
            true,
        ),
        (
            "two grounds: half and twice the grams",
            &gather(|it| &it.two_grounds_amounts),
            None,
            false,
        ),
    ] {
        accuracy(table, what, cases, goal, rival);
        inside(table, what, cases);
        if list {
            worst(cases);
        }
    }
    let everything: Vec<Case> = (between.iter().chain(&pairs).chain(&triples))
        .cloned()
        .collect();
    let kinds: [(&str, Is); 4] = [
        ("pale", |it| it.pale),
        ("near black", |it| it.near_black),
        ("translucent", |it| it.translucent),
        ("hiding", |it| it.hiding),
    ];
    for (what, is) in kinds {
        let kept: Vec<Case> = everything
            .iter()
            .filter(|it| is(&it.kind))
            .cloned()
            .collect();
        let what = format!("{what} films among loads and mixtures");
        accuracy(table, &what, &kept, None, true);
        inside(table, &what, &kept);
    }
}

/// Mean and p95 of the error, and against straight lines if they are a `rival`; a row that has no goal of its own must be better than those.
pub(crate) fn accuracy(
    table: &mut Table,
    what: &str,
    cases: &[Case],
    goal: Option<f64>,
    rival: bool,
) {
    let Some(it) = Figures::of(cases) else {
        table.row(what, "", "no case".into(), false);
        return;
    };
    let ratio = it.ratio.filter(|_| rival);
    let mut goals = Vec::new();
    goals.extend(goal.map(|goal| format!("mean ≤ {goal}")));
    goals.extend(ratio.map(|_| "ratio < 1".to_owned()));
    let mut found = format!(
        "mean {:.2}, median {:.2}, p95 {:.2}",
        it.mean, it.median, it.p95
    );
    if let Some(ratio) = ratio {
        found += &format!(", {ratio:.2} of linear Lab");
    }
    if let Some(laid) = it.of_laid {
        found += &format!(", {laid:.2} to the film as laid");
    }
    found += &format!(" ({} films)", it.cases);
    let reached = goal.is_none_or(|goal| it.mean <= goal) && ratio.is_none_or(|it| it < 1.0);
    table.row(&format!("ΔE00, {what}"), &goals.join(", "), found, reached);
}

/// How many truths lie within U95.
pub(crate) fn inside(table: &mut Table, what: &str, cases: &[Case]) {
    let Some(it) = Figures::of(cases) else {
        return;
    };
    table.row_of(
        &format!("truths within U95, {what}"),
        "90–98 %",
        format!(
            "{:.1} % of {}, mean U95 {:.2}, of which {:.2} would hold 95 %",
            100.0 * it.inside,
            it.cases,
            it.u95,
            it.enough
        ),
        (0.9..=0.98).contains(&it.inside),
        it.cases >= ENOUGH,
    );
}

/// Prints the worst ones.
pub(crate) fn worst(cases: &[Case]) {
    let mut cases: Vec<&Case> = cases.iter().collect();
    cases.sort_by(|a, b| b.error().total_cmp(&a.error()));
    for it in cases.iter().take(WORST) {
        let lab = |it: masstone::colour::Lab| format!("{:.1} {:.1} {:.1}", it.l, it.a, it.b);
        println!(
            "    {:.2} (U95 {:.2}): {} for {}, {}",
            it.error(),
            it.u95,
            lab(it.predicted),
            lab(it.truth),
            it.name
        );
    }
}
