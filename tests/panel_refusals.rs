//! Panel and card files: what is said of bad ones.

mod panel_text;

use masstone::panel;
use panel_text::{GREY, read};
use std::path::Path;

/// What is said of a bad panel, without the folder's path.
fn complaint(files: &[(&str, &str)]) -> String {
    let error = read(files).expect_err(files[0].1);
    let whole = error.to_string();
    let start = whole.find(files[0].0).unwrap_or(0);
    let folder = &whole[..start];
    whole.replace(folder, "")
}

#[test]
fn bad_spreadsheets_are_refused_with_their_line() {
    let panel_file = format!(
        "id = \"p\"\npatches = \"t.csv\"\n{GREY}[grid]\nrows = 2\ncolumns = 2\npatch_mm = [9, 9]\n\
        [[patch]]\nat = \"B2\"\nname = \"here\"\n"
    );
    for (csv, expected) in [
        ("", "t.csv: empty; the first line must name the columns"),
        (
            "at,nmae\n",
            "t.csv, line 1: unknown column `nmae`; did you mean `name`?",
        ),
        ("at,pigment4\n", "t.csv, line 1: unknown column `pigment4`"),
        ("at,at\n", "t.csv, line 1: the column `at` is there twice"),
        ("id,name\n", "t.csv, line 1: the column `at` is missing"),
        (
            "at,id\nA1,x,y\n",
            "t.csv, line 2: 3 cells, but the first line names 2 columns",
        ),
        (
            "at,id\n\nA9,x\n",
            "t.csv, line 3: A9 lies outside the grid, which ends at B2",
        ),
        (
            "at,id\nA1,x\nA1,y\n",
            "t.csv, line 3: A1 is described twice, first in",
        ),
        (
            "at,id\nfirst,x\n",
            "t.csv, line 2: \"first\" is no position",
        ),
        ("at,id\n,x\n", "t.csv, line 2: `at` is empty"),
        (
            "at,id\nA1,=x\n",
            "t.csv, line 2: `id` \"=x\" can't start with",
        ),
        (
            "at,pigment1,load1\nA1,PY42,\n",
            "t.csv, line 2: `pigment1` without `load1`",
        ),
        (
            "at,pigment1,load1\nA1,,3\n",
            "t.csv, line 2: `load1` without `pigment1`",
        ),
        (
            "at,pigment1,load1\nA1,PY42,-3\n",
            "t.csv, line 2: `load1` is -3; it must be above 0",
        ),
        (
            "at,pigment1,load1\nA1,PY42,nan\n",
            "t.csv, line 2: `load1` is \"nan\"; it must be a number",
        ),
        (
            "at;pigment1;load1\nA1;PY42;1.234,5\n",
            "t.csv, line 2: `load1` is \"1.234,5\"; it must be a number",
        ),
        (
            "at,L,a\nA1,3,3\n",
            "t.csv, line 2: a known colour needs all of",
        ),
        (
            "at,L,a,b\nA1,300,3,1\n",
            "t.csv, line 2: L* is 300; it must be from 0 to 100",
        ),
        (
            "at,empty\nA1,perhaps\n",
            "t.csv, line 2: `empty` can't be \"perhaps\"",
        ),
        (
            "at,control\nA1,clera\n",
            "t.csv, line 2: `control` can't be \"clera\"",
        ),
        (
            "at,name\nB2,there\n",
            "`name` of this patch is also stated in",
        ),
        (
            "at,empty,L,a,b\nA1,yes,50,0,0\n",
            "t.csv, line 2: a patch can't be empty and have a known colour",
        ),
    ] {
        let said = complaint(&[("p.toml", &panel_file), ("t.csv", csv)]);
        assert!(said.contains(expected), "{csv:?} gave\n{said}");
    }
    let said = complaint(&[("p.toml", &panel_file)]);
    assert!(
        said.starts_with("p.toml, line 2, column 11: the table of patches can't be used"),
        "{said}"
    );
}

#[test]
fn bad_panels_are_refused_with_their_place_and_what_would_be_right() {
    // `$` stands for a good grid and card, one line each.
    let good =
        "grid = { rows = 2, columns = 2, patch_mm = [9, 9] }\ncard = [{ card = \"grey-18\" }]\n";
    for (text, expected) in [
        (
            "id = \"p\"\n$patch = [{ id = \"s\", at_mm = [30, 0], size_mm = [5, 5] }, { id = \"t\", at_mm = [32, 0], size_mm = [5, 5] }]\n",
            "patch t overlaps patch s",
        ),
        ("$", "p.toml, line 1, column 1: `id` is missing"),
        (
            "id = \"p\"\n$coat = 3\n",
            "p.toml, line 4, column 1: unknown key `coat` in the panel; did you mean `coats`?",
        ),
        (
            "id = \"p\"\nid = \"q\"\n$",
            "p.toml, line 2, column 1: not readable as TOML: duplicate key",
        ),
        ("id = \"p\n$", "p.toml, line 1, column"),
        (
            "id = 7\n$",
            "p.toml, line 1, column 6: `id` must be text in quotes, not a number",
        ),
        ("id = \"\"\n$", "p.toml, line 1, column 6: `id` is empty"),
        ("id = \"=p\"\n$", "`id` \"=p\" can't start with"),
        ("id = \"+p\"\n$", "can't start with"),
        ("id = \"-p\"\n$", "can't start with"),
        ("id = \"@p\"\n$", "can't start with"),
        ("id = \"\\tp\"\n$", "has control characters"),
        ("id = \"\\rp\"\n$", "has control characters"),
        ("id = \"p\\u0000\"\n$", "has control characters"),
        ("id = \" p\"\n$", "has blanks at its start or end"),
        (
            "id = \"p\"\ncoats = -1\n$",
            "p.toml, line 2, column 9: `coats` is -1; it must be above 0",
        ),
        (
            "id = \"p\"\nupright = \"yes\"\n$",
            "`upright` must be true or false, not text in quotes",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [9, 9]\n",
            "p.toml: neither a card nor a known colour",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"grey-18\"\n",
            "p.toml: no patches",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"gray-18\"\n[grid]\npatch_mm = [9, 9]\n",
            "p.toml, line 3, column 8: there is no card \"gray-18\"",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"nowhere/x.toml\"\n[grid]\npatch_mm = [9, 9]\n",
            "there is no card file \"nowhere/x.toml\"",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"p.toml\"\n[grid]\npatch_mm = [9, 9]\n",
            "p.toml, line 2, column 1: a card can't name cards itself",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"grey-18\"\nplace = \"top\"\n[grid]\npatch_mm = [9, 9]\n",
            "`place` can't be \"top\"",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"grey-18\"\nplace = \"left\"\nat_mm = [1, 1]\n[grid]\npatch_mm = [9, 9]\n",
            "`place` and `at_mm` both say",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"grey-18\"\nturned = 45\n[grid]\npatch_mm = [9, 9]\n",
            "`turned` is 45; it must be 0, 90, 180 or 270",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"grey-18\"\nat_mm = [5, 5]\n[grid]\npatch_mm = [9, 9]\n",
            "p.toml, line 2, column 1: the card grey-18 would cover patch A1",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"grey-18\"\nat_mm = [20, 0]\n[[card]]\ncard = \"grey-18\"\nat_mm = [50, 50]\n[grid]\npatch_mm = [9, 9]\n",
            "p.toml, line 5, column 1: the cards grey-18 and grey-18 overlap",
        ),
        ("id = \"p\"\ncard = 3\n", "`card` must be a list"),
        (
            "id = \"p\"\n[card]\ncard = \"grey-18\"\n[grid]\npatch_mm = [9, 9]\n",
            "Write [[card]] with two brackets",
        ),
        (
            "id = \"p\"\n[board]\npatches = \"x.csv\"\n",
            "`patches` belongs to the top of the file",
        ),
        (
            "id = \"p\"\n$[board]\nsize_mm = [100, 100]\n",
            "`first_patch_mm` is missing in [board]",
        ),
        (
            "id = \"p\"\n$[board]\nfirst_patch_mm = [1, 1]\n",
            "`size_mm` is missing in [board]",
        ),
        (
            "id = \"p\"\n$[board]\nsize_mm = [18, 17]\nfirst_patch_mm = [0, 0]\n",
            "patch B1 does not fit on the board",
        ),
        (
            "id = \"p\"\n$[board]\nsize_mm = [180, 170]\nfirst_patch_mm = [-1, 0]\n",
            "patch A1 does not fit on the board",
        ),
        (
            "id = \"p\"\n$[board]\nsize_mm = [18, nan]\nfirst_patch_mm = [0, 0]\n",
            "`size_mm` must be a finite number",
        ),
        (
            "id = \"p\"\n$[board]\nsize_mm = [18]\nfirst_patch_mm = [0, 0]\n",
            "`size_mm` must be [width, height], not 1 values",
        ),
        (
            "id = \"p\"\n[grid]\nrows = 2\n",
            "p.toml, line 2, column 1: `patch_mm` is missing in [grid]",
        ),
        (
            "id = \"p\"\n[grid]\nrows = 0\npatch_mm = [9, 9]\n",
            "`rows` is 0; it must be a whole number from 1 to 10000",
        ),
        (
            "id = \"p\"\n[grid]\nrows = -2\npatch_mm = [9, 9]\n",
            "`rows` is -2; it must be a whole number",
        ),
        (
            "id = \"p\"\n[grid]\nrows = 2.0\npatch_mm = [9, 9]\n",
            "`rows` must be a whole number, not a number",
        ),
        (
            "id = \"p\"\n[grid]\nrows = 99999999999999999999999\npatch_mm = [9, 9]\n",
            "it must be a whole number from 1 to 10000",
        ),
        (
            "id = \"p\"\n[grid]\nrows = 9999\ncolumns = 9999\npatch_mm = [9, 9]\n",
            "more than the 10000 patches",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [0, 9]\n",
            "p.toml, line 3, column 13: `patch_mm` is 0; it must be above 0",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [-9, 9]\n",
            "`patch_mm` is -9; it must be above 0",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [inf, 9]\n",
            "`patch_mm` must be a finite number",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [1e300, 9]\n",
            "the limit is 20000",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [9, 9]\npitch_mm = [9, 8]\n",
            "p.toml, line 4, column 12: `pitch_mm` goes from patch to patch",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [9, 9]\nmasked = \"above\"\n",
            "`masked` can't be \"above\"",
        ),
        (
            "id = \"p\"\n$[[patch]]\nname = \"x\"\n",
            "say where the patch is",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"C1\"\n",
            "p.toml, line 4, column 1: C1 lies outside the grid, which ends at B2",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"1A\"\n",
            "p.toml, line 5, column 6: \"1A\" is no position",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\n[[patch]]\nat = \"a1\"\n",
            "p.toml, line 6, column 1: A1 is described twice, first in p.toml, line 4",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nid = \"B2\"\n",
            "the id \"B2\" is used twice: by A1 (line 4) and by B2",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nat_mm = [50, 50]\n",
            "`at` and `at_mm` both say",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nsize_mm = [50, 50]\n",
            "`size_mm` is for patches off the grid",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat_mm = [50, 50]\nid = \"x\"\n",
            "`size_mm` is missing in [[patch]]",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat_mm = [50, 50]\nsize_mm = [5, 5]\n",
            "give it an `id`",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat_mm = [5, 5]\nsize_mm = [5, 5]\nid = \"x\"\n",
            "p.toml, line 4, column 1: patch x overlaps patch A1",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\npigments = [{ pigment = \"PY42\", load = 0 }]\n",
            "`load` is 0; it must be above 0",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\npigments = [{ pigment = \"PY42\", load = 60 }, { pigment = \"PR101\", load = 60 }]\n",
            "the loads add up to 120",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\npigments = [{ pigment = \"PY42\", load = 1 }, { pigment = \"PY42\", load = 2 }]\n",
            "PY42 is there twice",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\npigments = [{ pigment = \"PY42\" }]\n",
            "`load` is missing",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\npigments = [{ pigment = \"PY42\", laod = 1 }]\n",
            "unknown key `laod` in `pigments`; did you mean `load`?",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\ncontrol = \"clear\"\npigments = [{ pigment = \"PY42\", load = 1 }]\n",
            "a control is coating without pigment",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nlab = [50, 0, 0]\nxyz = [20, 20, 20]\n",
            "`lab` and `xyz` both state the colour; keep one",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nlab = [101, 0, 0]\n",
            "L* is 101; it must be from 0 to 100",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nlab = [50, 200, 0]\n",
            "a* is 200; no surface lies beyond",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nlab = [50, 0]\n",
            "`lab` must be [L*, a*, b*], not 2 values",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nlab = [nan, 0, 0]\n",
            "`lab` must be a finite number",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nxyz = [0.18, 0.18, 0.15]\n",
            "looks as if white had Y = 1",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nxyz = [18, 118, 15]\n",
            "Y is at most 100",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nuncertainty = 1\n",
            "`uncertainty` without a colour",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nlab = [50, 0, 0]\nuncertainty = 0\n",
            "`uncertainty` is 0; it must be above 0",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nreflectance = { start_nm = 400, step_nm = 10, values = [50] }\n",
            "the spectrum covers 400–400 nm",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nempty = true\nlab = [50, 0, 0]\n",
            "a patch can't be empty and have a known colour",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nname = \"\"\n",
            "`name` is empty; leave it out instead",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [9, 9]\n[[patch]]\nat = \"A1\"\nempty = true\n[[card]]\ncard = \"grey-18\"\n",
            "every patch is empty",
        ),
        (
            "id = \"p\"\n[[patch]]\nat = \"A1\"\nlab = [50, 0, 0]\n",
            "A1 is a position in a grid, but there is no [grid]",
        ),
    ] {
        let said = complaint(&[("p.toml", &text.replace('$', good))]);
        assert!(
            said.contains(expected),
            "{text}\ngave\n{said}\nnot\n{expected}"
        );
        let line = text.contains("neither") || expected.starts_with("p.toml: ");
        assert!(
            line || said.contains(", line "),
            "{text}\ngave no line\n{said}"
        );
    }
}

#[test]
fn everything_that_is_wrong_is_said_at_once() {
    let many = format!("id = \"p\"\n[grid]\npatch_mm = [9, 9]\n{}", GREY.repeat(51));
    assert_eq!(
        complaint(&[("p.toml", &many)]),
        "p.toml, line 104, column 1: more than the 50 cards that a panel can have"
    );
    let error = read(&[("p.toml", "id = 3\ncoats = 0\n[grid]\nrows = 0\npatch_mm = [9, 9]\n[[patch]]\nat = \"?\"\n[[patch]]\nat = \"A1\"\nnaem = \"x\"\n")]).unwrap_err();
    let lines: Vec<_> = error.problems().iter().map(|it| it.spot.line).collect();
    assert_eq!(lines, [Some(1), Some(2), Some(4), Some(7), Some(10)]);
    assert_eq!(error.to_string().lines().count(), 5);
}

#[test]
fn files_that_are_no_panels_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let said = |path: &Path| panel::read(path).unwrap_err().to_string();
    assert!(said(&folder.path().join("none.toml")).contains("can't read it"));
    assert!(said(folder.path()).contains("can't read it"));
    let photo = folder.path().join("photo.toml");
    std::fs::write(&photo, b"a\n\xff\xd8\xff").unwrap();
    assert!(
        said(&photo).contains("photo.toml, line 2: not UTF-8 text"),
        "{}",
        said(&photo)
    );
    let latin = folder.path().join("latin.csv");
    std::fs::write(&latin, b"at,name\nA1,gr\xfcn\n").unwrap();
    let p = folder.path().join("p.toml");
    std::fs::write(
        &p,
        format!("id = \"p\"\npatches = \"latin.csv\"\n{GREY}[grid]\npatch_mm = [9, 9]\n"),
    )
    .unwrap();
    assert!(said(&p).contains("CSV UTF-8"), "{}", said(&p));
}
