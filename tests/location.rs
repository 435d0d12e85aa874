//! Location over small simulated photos: right or refused, never wrong. `cargo bench --bench location` is the long run.

mod scenes;

use masstone::locate::LocateError;
use masstone_simulator::{Fault, Mixture, SceneSpec, Series, Split, Trouble};
use scenes::Outcome;

/// Long side of most scenes, pixels.
const SIDE: u32 = 1000;

/// Locates in one scene.
fn outcome(spec: &SceneSpec, side: u32) -> Outcome {
    let scene = spec.build();
    let picture = scene.render_small(side);
    let panel = scenes::panel_of(&scene).expect("these scenes' panel files are right");
    let image = scenes::linear(&picture);
    let found = scenes::locate_linear(&image, spec.tag.unwrap_or(1), &panel);
    scenes::judge(found, &panel, &picture.truth)
}

/// Hard scenes of 800 pixels that must be found.
fn all_right(seeds: &[u64]) {
    for seed in seeds {
        let found = outcome(&SceneSpec::draw(Mixture::Hard, Split::Test, *seed), 800);
        assert!(
            matches!(found, Outcome::Right(off) if off < 0.1),
            "{seed}: {found:?}"
        );
    }
}

/// Counts of right and refused; a wrong one fails the test at once.
fn run(mixture: Mixture, seeds: std::ops::Range<u64>) -> (usize, usize) {
    let (mut right, mut refused) = (0, 0);
    for seed in seeds {
        match outcome(&SceneSpec::draw(mixture, Split::Test, seed), SIDE) {
            Outcome::Right(_) => right += 1,
            Outcome::Refused(error) => {
                assert!(!error.hint().is_empty());
                refused += 1;
            }
            Outcome::Wrong(why) | Outcome::Amiss(why) => panic!("{mixture:?} {seed}: {why}"),
        }
    }
    (right, refused)
}

#[test]
fn ordinary_scenes_are_found_and_none_is_named_wrongly() {
    let (right, refused) = run(Mixture::Ordinary, 500_000..500_024);
    assert!(right >= 23, "{right} right, {refused} refused");
}

#[test]
fn hard_scenes_are_found_or_refused() {
    let (right, refused) = run(Mixture::Hard, 510_000..510_012);
    assert!(right >= 10, "{right} right, {refused} refused");
}

#[test]
fn what_cannot_be_measured_is_refused_for_its_reason() {
    type Reason = fn(&LocateError) -> bool;
    let kinds: [(Trouble, Reason); 5] = [
        (Trouble::NoWitness, |it| {
            matches!(it, LocateError::TurnUndecided { .. })
        }),
        (Trouble::NoPanel, |it| {
            matches!(it, LocateError::NoPanel { .. })
        }),
        (Trouble::NoCard, |it| {
            matches!(it, LocateError::CardMissing { .. })
        }),
        (Trouble::TwoPanels, |it| {
            matches!(it, LocateError::TwoPanels { .. })
        }),
        (Trouble::WrongPanel, |it| {
            matches!(it, LocateError::LayoutDoesNotFit { .. })
        }),
    ];
    for (trouble, reason) in kinds {
        for seed in 520_000..520_004 {
            let spec = SceneSpec::troubled(trouble, Split::Test, seed);
            let outcome = outcome(&spec, SIDE);
            assert!(
                matches!(&outcome, Outcome::Refused(error) if reason(error)),
                "{trouble:?} {seed}: {outcome:?}"
            );
        }
    }
}

/// Scenes that were once read wrongly, or refused without need, each for a fault of its own.
#[test]
fn faults_that_were_mended_stay_mended() {
    let scene = |mixture, seed, side| outcome(&SceneSpec::draw(mixture, Split::Test, seed), side);
    for (why, found) in [
        (
            "regions beside a single row bent its lattice, and a chart in its own plane was not believed",
            scene(Mixture::Ordinary, 8_970_188, 800),
        ),
        (
            "patches flattened at the far edge of a tilted photo were taken for half as wide ones",
            scene(Mixture::Hard, 40_000_619, 800),
        ),
        (
            "a card that a shadow's edge crosses was laid a zone off",
            scene(Mixture::Hard, 8_990_018, 2400),
        ),
        (
            "a grey card on a mottled cloth of its own lightness was not seen",
            scene(Mixture::Hard, 63_000_014, 2048),
        ),
        (
            "a grey card on a weave whose threads hide its edges at full size was given up there",
            scene(Mixture::Hard, 63_000_066, 2048),
        ),
        (
            "a card of three zones was held to the plane that a single row of patches tells",
            scene(Mixture::Hard, 63_000_122, 2048),
        ),
        (
            "a row one patch too far, its last patch on the table, was as likely where a highlight hid another",
            scene(Mixture::Hard, 63_000_221, 2048),
        ),
        (
            "a row of clutter on the table was taken for a second panel",
            scene(Mixture::Hard, 63_000_308, 2048),
        ),
        (
            "noise hid each half side of patches hardly paler than a black board",
            scene(Mixture::Hard, 70_000_070, SIDE),
        ),
        (
            "two patches that hardly show lay between the two that do",
            scene(Mixture::Hard, 70_000_057, SIDE),
        ),
        (
            "the only patch of a row, told from its board's stated edges, said too little of the plane to find the card in",
            scene(Mixture::Hard, 70_100_043, SIDE),
        ),
        (
            "a card close beside the board was taken to reach to the board's edge, 0.16 of a zone off",
            scene(Mixture::Hard, 60_301_067, SIDE),
        ),
        (
            "a shadow's edge left no region of the grey card's shape",
            scene(Mixture::Hard, 63_000_274, SIDE),
        ),
        (
            "a dark round lid of the grey card's size was taken for it",
            scene(Mixture::Hard, 71_500_232, 800),
        ),
        (
            "a black sheet of the grey card's size was taken for it, though the board would be lighter than white",
            scene(Mixture::Hard, 73_000_053, 800),
        ),
        (
            "a sheet on which the layout fits a tenth as large was taken for a second panel",
            scene(Mixture::Ordinary, 73_200_478, 800),
        ),
        (
            "a row of clutter on the table was a second panel where the card may lie anywhere",
            scene(Mixture::Hard, 73_200_109, 800),
        ),
        (
            "a grey table where empty cells should be was taken for dark wood with a highlight on it",
            scene(Mixture::Ordinary, 73_200_109, 800),
        ),
        (
            "a grey card on a mottled cloth of about its own colour was not seen",
            scene(Mixture::Hard, 73_200_343, 800),
        ),
    ] {
        assert!(matches!(found, Outcome::Right(_)), "{why}: {found:?}");
    }
    // A sheet of the grey card's size on the other side of the board; the card on a mottled cloth was missed, and the row read backwards.
    let found = scene(Mixture::Hard, 73_200_058, 800);
    assert!(
        matches!(
            &found,
            Outcome::Right(_) | Outcome::Refused(LocateError::TurnUndecided { .. })
        ),
        "{found:?}"
    );
    // The true card shows hardly less than a sheet of its size beside it.
    let found = scene(Mixture::Hard, 61_300_356, 800);
    assert!(
        matches!(&found, Outcome::Refused(LocateError::CardDoubtful { .. })),
        "{found:?}"
    );
    // Zones of eight pixels: laid a pixel off they would be read among their neighbours.
    let found = scene(Mixture::Hard, 8_990_186, 800);
    assert!(
        matches!(&found, Outcome::Refused(LocateError::CardTooSmall { pixels, .. }) if *pixels < 12.0),
        "{found:?}"
    );
}

/// Boards alike of which only one was seen to be a panel, each for a fault of its own; one was read for the one beside the card.
#[test]
fn two_boards_alike_are_refused_as_such() {
    for (why, seed) in [
        ("one lattice reached over two boards", 8_995_058),
        (
            "the fullest lattice reached over two boards, and stood for that of the panel beside the card",
            73_250_029,
        ),
        (
            "dark paint on a dark board in the shade hardly showed, though the board's edges did",
            73_200_055,
        ),
        ("the card lay on two of the second's patches", 73_200_084),
        (
            "half of four patches showed only faintly, on either board",
            73_200_178,
        ),
    ] {
        let found = outcome(
            &SceneSpec::troubled(Trouble::TwoPanels, Split::Test, seed),
            800,
        );
        assert!(
            matches!(&found, Outcome::Refused(LocateError::TwoPanels { .. })),
            "{why}: {found:?}"
        );
    }
}

/// The edge of the board beside it was taken for that of a tilted card's black zone, which hardly shows on dark grass: the zone lay 0.21
/// of its size off.
#[test]
fn a_card_whose_zones_disagree_on_its_place_is_refused() {
    let found = outcome(
        &SceneSpec::draw(Mixture::Hard, Split::Test, 73_260_364),
        800,
    );
    assert!(
        matches!(
            &found,
            Outcome::Right(_) | Outcome::Refused(LocateError::CardUnseen { .. })
        ),
        "{found:?}"
    );
}

/// A chart beside the board went on with its lattice, and the layout lay a column off: the board's edges passed for patches of the last
/// column, and the first lay outside.
#[test]
fn a_layout_is_not_laid_a_column_off() {
    let found = outcome(
        &SceneSpec::draw(Mixture::Ordinary, Split::Test, 89_202_133),
        800,
    );
    assert!(
        matches!(
            &found,
            Outcome::Right(_)
                | Outcome::Refused(
                    LocateError::LayoutDoesNotFit { .. } | LocateError::Shifted { .. }
                )
        ),
        "{found:?}"
    );
}

/// All that is grey was as blue as the lamp, more than a grey card may be.
#[test]
fn a_grey_card_under_a_strong_cast_is_found() {
    for seed in [84_300_010, 84_300_045, 84_300_442] {
        let found = outcome(&SceneSpec::draw(Mixture::Hard, Split::Test, seed), 800);
        assert!(matches!(found, Outcome::Right(_)), "{seed}: {found:?}");
    }
}

/// A smaller sheet filled three sides of the card's frame; a white one was taken for the grey card of a photo that a camera balanced too
/// blue, whose own tint no card should have; the card was laid a tenth of its side off.
#[test]
fn no_sheet_that_is_not_the_grey_card_is_taken_for_it() {
    for (why, seed) in [
        ("a smaller sheet, and a shadow across the card", 82_300_357),
        ("a white sheet, clipped", 82_302_202),
        ("a shadow's edge across the card", 82_300_310),
        ("a sheet that showed its outline better", 83_300_505),
        (
            "a sheet that lay askew in the frame, while the card melts into the table",
            83_300_612,
        ),
    ] {
        let found = outcome(&SceneSpec::draw(Mixture::Hard, Split::Test, seed), 800);
        assert!(
            matches!(
                &found,
                Outcome::Right(_)
                    | Outcome::Refused(
                        LocateError::CardMissing { .. }
                            | LocateError::CardSmaller { .. }
                            | LocateError::CardDoubtful { .. }
                    )
            ),
            "{why}: {found:?}"
        );
    }
}

/// The staves of the board, as wide as its patches, were taken for a row of them above and below: the layout lay a third of a patch off.
#[test]
fn staves_of_the_board_do_not_bend_the_layout() {
    let series = Series::draw(Split::Test, 79_000_009, Fault::None, 6, 3);
    let found = outcome(&series.shots(1)[1], 1000);
    assert!(
        matches!(found, Outcome::Right(off) if off < 0.05),
        "{found:?}"
    );
}

/// A row whose first patch is clear coating fits as well with the clear one past the other end: where the card lies tells.
#[test]
fn a_card_near_its_stated_place_says_which_patch_is_which() {
    let found = outcome(
        &SceneSpec::draw(Mixture::Ordinary, Split::Test, 83_000_108),
        1000,
    );
    assert!(matches!(found, Outcome::Right(_)), "{found:?}");
}

/// Another sheet of a grey card's size lies about, as plainly seen: askew, as the card seldom is, or lighter than nearly all of the panel.
/// And the card itself, parted by the edge of a shadow, in tungsten light.
#[test]
fn a_grey_card_is_told_from_other_sheets_by_how_it_lies_and_how_light_it_is() {
    for (why, seed) in [
        ("another sheet askew", 84_300_244),
        ("another sheet askew", 84_300_541),
        ("parted by a shadow", 84_300_208),
    ] {
        let found = outcome(&SceneSpec::draw(Mixture::Hard, Split::Test, seed), 1000);
        assert!(matches!(found, Outcome::Right(_)), "{why}: {found:?}");
    }
    let white = SceneSpec::draw(Mixture::Hard, Split::Test, 83_100_039);
    let found = outcome(&white, 1000);
    assert!(
        matches!(found, Outcome::Right(_)),
        "a white sheet: {found:?}"
    );
}

/// Six cards lay in a row as long as the panel's; of the panel itself, dark on dark wood, four patches of six showed.
#[test]
fn a_row_on_the_table_is_no_panel_where_another_lies_on_a_board() {
    let found = outcome(
        &SceneSpec::draw(Mixture::Hard, Split::Test, 83_300_846),
        800,
    );
    assert!(
        matches!(&found, Outcome::Refused(LocateError::TwoPanels { .. })),
        "{found:?}"
    );
}

/// The card lies partly on the board, where its outline doesn't show; another sheet of its size lies beside it, turned by a third of a right angle. Or it
/// hardly shows on wood, and the other is turned by a little more than a sixth; or a shadow's edge crosses it on a cloth of its colour, and the other is
/// turned by a little less.
#[test]
fn a_lone_sheet_that_lies_askew_is_not_taken_for_the_card() {
    // The last lies so much less like a card that nothing is left which could be it.
    for (seed, askew) in [(86_301_245, true), (86_301_656, true), (92_301_108, false)] {
        let found = outcome(&SceneSpec::draw(Mixture::Hard, Split::Test, seed), 800);
        let as_it_should = match &found {
            Outcome::Refused(LocateError::CardAskew { .. }) => askew,
            Outcome::Refused(LocateError::CardMissing { .. }) => !askew,
            _ => false,
        };
        assert!(as_it_should, "{seed}: {found:?}");
    }
}

/// The frame cuts the card off, and another sheet of its size lies whole and nearly square beside the board.
#[test]
fn a_whole_sheet_is_not_taken_for_a_card_that_the_frame_cuts_off() {
    let spec = SceneSpec::draw(Mixture::Hard, Split::Test, 91_302_028);
    let found = outcome(&spec, 800);
    assert!(
        matches!(
            &found,
            Outcome::Refused(LocateError::CardDoubtful { .. } | LocateError::CardMissing { .. })
        ),
        "{found:?}"
    );
}

/// Another sheet lies at more than a sixth of a right angle, as no card is laid; it was a rival of the one that lies square. And one is cut off by the frame.
#[test]
fn a_card_that_lies_square_has_no_rival_in_a_sheet_that_lies_askew_or_is_cut_off() {
    all_right(&[91_300_087, 91_301_437, 91_302_175, 91_302_001]);
}

/// The edge of the board beside a card passed for the card's own: the whole card was laid off, or its zones, or with them the row's plane.
#[test]
fn a_boards_edge_is_no_edge_of_the_card_beside_it() {
    all_right(&[91_302_141, 91_302_213, 91_300_532]);
}

/// A row says little of how its plane slants: the card beside it lay 0.42 of a zone off, or the row's lower edges on a shadow's.
#[test]
fn a_row_takes_its_plane_from_the_card_beside_it() {
    for (mixture, seed, side) in [
        (Mixture::Ordinary, 86_000_041, 2048),
        (Mixture::Hard, 86_300_958, 800),
        (Mixture::Hard, 86_300_270, 800),
        (Mixture::Hard, 86_300_435, 800),
    ] {
        let found = outcome(&SceneSpec::draw(mixture, Split::Test, seed), side);
        assert!(
            matches!(found, Outcome::Right(off) if off < 0.1),
            "{seed}: {found:?}"
        );
    }
}

/// The last patch of a row looks as its board does, and the row laid a patch on has one past the board's end, where its edge runs.
#[test]
fn a_row_whose_last_patch_looks_like_the_board_is_not_laid_past_the_boards_end() {
    for seed in [90_200_157, 90_200_994] {
        let found = outcome(&SceneSpec::draw(Mixture::Ordinary, Split::Test, seed), 800);
        assert!(matches!(found, Outcome::Right(_)), "{seed}: {found:?}");
    }
}

/// The card, large in the picture, is nearly as light as a mottled cloth, and the light falls off over it more than it differs from the cloth.
#[test]
fn a_card_over_which_the_light_falls_off_is_found_by_its_evenness() {
    let found = outcome(
        &SceneSpec::draw(Mixture::Ordinary, Split::Test, 90_200_250),
        800,
    );
    assert!(matches!(found, Outcome::Right(_)), "{found:?}");
}

/// The light falls off over cards of about a mottled cloth's lightness: their ends lie farther from their middle's colour than the mottle does.
#[test]
fn a_card_on_a_cloth_of_its_lightness_is_even_but_for_the_light() {
    all_right(&[84_300_299, 60_000_211, 60_001_167]);
}

/// Noise breaks up the outlines of dim cards that lie plainly on a table of nearly their lightness.
#[test]
fn a_card_that_noise_hides_is_found_in_half_the_picture() {
    all_right(&[84_300_046, 60_000_366, 60_000_622]);
}

/// Turned by a quarter, the layout has rows of another pitch, and a white sheet that lies askew where the grey card is to be.
#[test]
fn a_card_is_weighed_against_what_a_quarter_turn_takes_for_it() {
    let spec = SceneSpec::draw(Mixture::Hard, Split::Test, 98_100_014);
    let found = outcome(&spec, 1600);
    assert!(matches!(found, Outcome::Right(_)), "{found:?}");
}

/// The card lies in deep shade on a cloth of its lightness, and doesn't show; a brown sheet of its size is so dark that it would lie in a shadow, too.
#[test]
fn a_lone_dark_sheet_is_not_taken_for_a_card_in_the_shade() {
    let found = outcome(
        &SceneSpec::draw(Mixture::Hard, Split::Test, 90_300_593),
        800,
    );
    assert!(
        matches!(&found, Outcome::Refused(LocateError::CardMissing { .. })),
        "{found:?}"
    );
}

/// Evenness alone shows the card, in part of which a shadow lies: as far as it told by one colour, the card could be turned by a ninth of a right angle, too.
#[test]
fn a_card_in_part_of_which_a_shadow_lies_is_laid_as_it_lies() {
    all_right(&[90_300_683]);
}

/// Four patches in the middle of their board, and a shape of the board's form a fifth of its size, on which outlines are found wherever they are looked for.
#[test]
fn a_tiny_shape_is_no_board() {
    let found = outcome(
        &SceneSpec::draw(Mixture::Ordinary, Split::Test, 90_200_642),
        800,
    );
    assert!(matches!(found, Outcome::Right(_)), "{found:?}");
}

/// The board's patches lie almost as far apart as the chart's zones: lattices that went on over both were fuller than the chart's own.
#[test]
fn a_chart_beside_a_board_of_like_pitch_is_found_for_what_it_is() {
    let found = outcome(
        &SceneSpec::draw(Mixture::Ordinary, Split::Test, 91_000_008),
        2000,
    );
    assert!(matches!(found, Outcome::Right(_)), "{found:?}");
}

/// The board's margin is of so few pixels that a profile across its edge reached into the patches, whose own outlines hid it: nothing said which way is up.
#[test]
fn the_edge_of_a_board_with_a_narrow_margin_is_seen() {
    let spec = SceneSpec::draw(Mixture::Ordinary, Split::Test, 92_000_096);
    let found = outcome(&spec, 2048);
    assert!(matches!(found, Outcome::Right(_)), "{found:?}");
}

/// Grass parts a card's black zone from the edge of the board, or of a shadow, much harder than the zone's own, which was taken for that.
#[test]
fn a_black_zone_on_dark_grass_ends_before_a_harder_edge_beside_it() {
    for (mixture, seed) in [(Mixture::Ordinary, 92_200_726), (Mixture::Hard, 92_300_712)] {
        let found = outcome(&SceneSpec::draw(mixture, Split::Test, seed), 800);
        assert!(
            matches!(found, Outcome::Right(off) if off < 0.1),
            "{seed}: {found:?}"
        );
    }
}

/// Another sheet lies at a seventh of a right angle, as plainly seen as the card, which lies square in a shadow.
#[test]
fn a_sheet_that_no_card_would_lie_like_is_no_rival() {
    let spec = SceneSpec::draw(Mixture::Hard, Split::Test, 91_100_045);
    let found = outcome(&spec, 1000);
    assert!(matches!(found, Outcome::Right(_)), "{found:?}");
}

/// A smaller sheet lies beside the card on a mottled cloth: in a frame a tenth too large its sides differ from the cloth all round.
#[test]
fn a_sheet_whose_edges_lie_within_its_frame_is_no_rival() {
    let spec = SceneSpec::draw(Mixture::Hard, Split::Test, 92_100_004);
    let found = outcome(&spec, 800);
    assert!(matches!(found, Outcome::Right(_)), "{found:?}");
}

/// Planks of the table on the far side of the board have a card's width, and all wood in the photo is yellow: they stood for a card in a yellow light.
#[test]
fn planks_are_no_card_in_a_yellow_light_where_a_grey_one_lies() {
    let spec = SceneSpec::draw(Mixture::Ordinary, Split::Test, 92_200_010);
    let found = outcome(&spec, 800);
    assert!(matches!(found, Outcome::Right(_)), "{found:?}");
}

/// The card lies in blue light on a mottled cloth of its lightness, close beside the board, whose edge was taken for its own; a dark sheet of its size lies farther off.
#[test]
fn a_plain_sheet_is_not_taken_for_a_card_whose_edges_a_cloth_hides() {
    let spec = SceneSpec::draw(Mixture::Hard, Split::Test, 93_300_474);
    let found = outcome(&spec, 800);
    assert!(
        matches!(
            &found,
            Outcome::Right(_) | Outcome::Refused(LocateError::CardDoubtful { .. })
        ),
        "{found:?}"
    );
}

/// A mottled cloth is about as light as the card along two of its sides, and the white board lies beyond the third: the card seemed to go on beyond them.
#[test]
fn a_card_does_not_bulge_where_a_cloth_comes_near_its_colour() {
    let spec = SceneSpec::draw(Mixture::Ordinary, Split::Test, 93_000_112);
    let found = outcome(&spec, 2048);
    assert!(matches!(found, Outcome::Right(_)), "{found:?}");
}

/// Of dark patches on dark wood the second row was taken for the first, so that the board would have lain under the chart beside it.
#[test]
fn no_board_lies_under_a_chart() {
    let spec = SceneSpec::draw(Mixture::Hard, Split::Test, 86_300_446);
    let found = outcome(&spec, 800);
    assert!(
        matches!(
            &found,
            Outcome::Right(_) | Outcome::Refused(LocateError::Shifted { .. })
        ),
        "{found:?}"
    );
}

/// Another sheet of the card's size lies on the other side of the row, where the card would be if the layout were turned: it is less like the card by a clear lead.
#[test]
fn what_is_clearly_less_like_the_card_does_not_speak_for_a_turned_layout() {
    all_right(&[93_300_155]);
}

/// The board is of the table's wood, and a patch in the middle of its row isn't seen: what shows there was taken for the table, and the layout for laid off the board.
#[test]
fn between_two_patches_of_a_row_lies_the_board() {
    all_right(&[84_300_471]);
}

/// On a mottled cloth no region has the card's outline, and where it is evenest it seems a fiftieth larger than it is; all the same it shows its edges.
#[test]
fn a_card_that_seems_larger_and_shows_its_edges_is_found_on_a_mottled_cloth() {
    all_right(&[84_300_297]);
}

/// A shadow's edge crosses all three zones, so that none is a region: parts of them are.
#[test]
fn zones_that_a_shadow_parts_are_found_by_their_parts() {
    all_right(&[84_300_316, 93_300_149]);
}

/// A strip of six sheets has the layout's pitch, and a shadow's edge lies across it, so that it seemed to lie on something else than the table.
#[test]
fn a_strip_without_the_boards_edges_is_no_second_panel() {
    all_right(&[93_300_040]);
}

/// Rows of which few patches show, as dark paint on dark wood, on boards whose outlines do. Of the first and the fifth two patches of four are seen; the
/// others' regions lie too far apart for a lattice, or on one that is laid amiss.
#[test]
fn a_board_that_is_seen_vouches_for_few_patches() {
    all_right(&[60_000_338, 60_000_747, 60_000_768, 60_000_878, 93_300_339]);
}

/// A row of which three small regions tell the place: its far end points away by two fifths of a patch, which the chart's plane mends.
#[test]
fn a_row_is_moved_farther_in_a_charts_plane_where_that_shows_more_of_it() {
    let spec = SceneSpec::draw(Mixture::Hard, Split::Test, 98_100_072);
    let found = outcome(&spec, 1300);
    assert!(
        matches!(found, Outcome::Right(off) if off < 0.1),
        "{found:?}"
    );
}
