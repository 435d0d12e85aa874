//! Rows on what goes wrong: masks that leak, drifts, boards that lie otherwise, other boards, photos that are refused.

use super::board::{Caught, Run, Slip};
use super::table::Table;
use masstone::fade::report::FadeFlag;

/// The rows, over all boards.
pub(crate) fn rows(table: &mut Table, runs: &[Run]) {
    photos(table, runs);
    leaks(table, runs);
    drifts(table, runs);
    for (slip, words) in [
        (Slip::Turned, "board turned beside its card"),
        (Slip::OtherBoard, "another board of the same layout"),
    ] {
        slips(table, runs, slip, words);
    }
}

fn photos(table: &mut Table, runs: &[Run]) {
    let (mut all, mut measured, mut wrong) = (0, 0, 0);
    for (run, seen) in runs
        .iter()
        .flat_map(|run| run.seen.iter().map(move |it| (run, it)))
    {
        all += 1;
        match &seen.given {
            Ok(record) => {
                measured += 1;
                table.count(record);
            }
            Err(why) => println!("  {} refused: {why}", run.series.spec.layout.id),
        }
        if let Some(why) = &seen.misnamed {
            wrong += 1;
            println!("  {} WRONG: {why}", run.series.spec.layout.id);
        }
    }
    let failed = runs.iter().filter_map(|it| it.report.as_ref().err());
    for why in failed.clone() {
        println!("  not assessed: {why}");
    }
    table.row(
        "photos measured and rightly named, by place; boards assessed",
        "all",
        format!(
            "{measured} of {all} photos, {wrong} wrongly named; {} of {} boards",
            runs.len() - failed.clone().count(),
            runs.len()
        ),
        measured == all && wrong == 0 && failed.count() == 0,
    );
}

/// Ids of the patches that some change flags so.
fn flagged(run: &Run, flag: FadeFlag) -> Vec<&str> {
    let patches = run.report.iter().flat_map(|it| &it.patches);
    patches
        .filter(|it| it.changes.iter().any(|it| it.flags.contains(&flag)))
        .map(|it| it.patch.as_str())
        .collect()
}

fn leaks(table: &mut Table, runs: &[Run]) {
    let (mut leaks, mut named, mut falsely) = (0, 0, Vec::new());
    for run in runs {
        let ids = run.series.ids();
        let leaking = run.series.leak.map(|it| ids[it.patch].as_str());
        leaks += usize::from(leaking.is_some());
        for id in flagged(run, FadeFlag::MaskedMoved) {
            if Some(id) == leaking {
                named += 1;
            } else {
                falsely.push(format!("{} {id}", run.series.spec.layout.id));
            }
        }
    }
    for it in &falsely {
        println!("  named though its mask is sound: {it}");
    }
    table.row(
        "leaking masks found and named; sound ones named so",
        "all; none",
        format!("{named} of {leaks}; {}", falsely.len()),
        named == leaks && leaks > 0 && falsely.is_empty(),
    );
}

fn drifts(table: &mut Table, runs: &[Run]) {
    let found = |it: &&Run| !flagged(it, FadeFlag::CommonDrift).is_empty();
    let with = || runs.iter().filter(|it| it.series.drift.is_some());
    let without = || runs.iter().filter(|it| it.series.drift.is_none());
    let (named, drifting) = (with().filter(found).count(), with().count());
    let (falsely, steady) = (without().filter(found).count(), without().count());
    table.row(
        "common drifts found and named; steady boards called drifting",
        "all; none",
        format!("{named} of {drifting}; {falsely} of {steady}"),
        named == drifting && drifting > 0 && falsely == 0,
    );
}

fn slips(table: &mut Table, runs: &[Run], slip: Slip, words: &str) {
    let all: Vec<&Run> = runs.iter().filter(|it| it.slip.0 == slip).collect();
    let mut fooled = 0;
    for run in &all {
        match &run.slip.1 {
            Caught::Refused(why) => println!("  {words}, refused: {why}"),
            Caught::LeftOut => println!("  {words}, left out"),
            Caught::Right => println!("  {words}, rightly named"),
            Caught::Fooled => fooled += 1,
        }
    }
    table.row(
        &format!("{words}: refused"),
        "all",
        format!("{} of {}", all.len() - fooled, all.len()),
        fooled == 0 && !all.is_empty(),
    );
}
