use super::judge::{UNUSUAL, askew};
use super::*;

/// A sheet that shows plainly, square in the plane's origin.
fn sighting(score: f64) -> Found {
    Found {
        pose: at(0.0, 0.0, 0.0),
        score,
        seen: 1.0,
        share: 1.0,
        plain: true,
        own: None,
        even: false,
        needs_cast: false,
    }
}

fn at(x: f64, y: f64, degrees: f64) -> Pose {
    Pose {
        centre: Point::new(x, y),
        angle: degrees.to_radians(),
        scale: 1.0,
    }
}

#[test]
fn of_sightings_of_one_sheet_the_one_that_shows_most_of_its_outline_counts() {
    let like = |x: f64, score: f64, share: f64| Found {
        pose: at(x, 0.0, 0.0),
        share,
        ..sighting(score)
    };
    let (off, on) = (like(10.0, 5.51, 0.8), like(0.0, 5.46, 1.0));
    let x = |all: &[Found]| best(all, 100.0).map(|it| it.pose.centre.x);
    assert_eq!(x(&[off, on]), Some(0.0));
    // Another sheet, and one that fits much worse, are no better for it.
    assert_eq!(x(&[off, like(80.0, 5.46, 1.0)]), Some(10.0));
    assert_eq!(x(&[off, like(0.0, 4.9, 1.0)]), Some(10.0));
    assert_eq!(x(&[]), None);
}

#[test]
fn what_a_cloth_hides_the_edges_of_is_less_behind_what_shows_them() {
    let found = |even: bool| Found {
        even,
        ..sighting(2.0)
    };
    assert!((found(false).behind(5.0, true) - 2.0).abs() < 1e-9);
    assert!((found(true).behind(5.0, true) - 0.6 / 1.5).abs() < 1e-9);
    // Nothing is behind what is less like the card.
    assert!(found(false).behind(1.0, true).abs() < 1e-9);
    assert!(found(true).behind(4.0, true).abs() < 1e-9);
}

#[test]
fn what_only_the_lights_tint_excuses_gives_way_to_what_is_more_like_the_card() {
    let like = |score: f64, needs_cast: bool| Found {
        needs_cast,
        ..sighting(score)
    };
    let left = |seen: Vec<Found>, faint: Vec<Found>| {
        let all = Sightings { seen, faint }.without_tinted(1.5);
        (all.seen.len(), all.faint.len())
    };
    // Planks of yellow wood, and a grey sheet.
    let planks = vec![like(0.8, true), like(2.9, true)];
    assert_eq!(left(planks.clone(), vec![like(4.5, false)]), (0, 1));
    assert_eq!(left(vec![like(4.5, false)], planks.clone()), (1, 0));
    // What lies askew is no card.
    let mut askew = like(4.5, false);
    askew.pose.angle = 0.35;
    assert_eq!(left(planks.clone(), vec![askew]), (2, 1));
    // One that is hardly more like it, or is tinted itself, or none.
    assert_eq!(left(planks.clone(), vec![like(2.0, false)]), (2, 1));
    assert_eq!(left(planks.clone(), vec![like(4.5, true)]), (2, 1));
    assert_eq!(left(planks, Vec::new()), (2, 0));
}

#[test]
fn a_card_is_square_in_any_turn_and_askew_between() {
    let at = |degrees: f64| askew(&at(0.0, 0.0, degrees));
    assert!([0.0, 90.0, 180.0, -90.0].iter().all(|it| at(*it) < 1e-9));
    assert!(at(5.0) < 0.2 && (at(5.0) - at(-95.0)).abs() < 1e-9);
    assert!(at(20.0) > 0.9 && at(45.0) > 0.99);
    // Neither this nor its lightness decides alone between two sheets that are seen alike.
    assert!(UNUSUAL < clear_lead(true));
}

/// A sheet beside a row, above which a card is to lie.
fn above() -> Panel {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("panel.toml");
    let text = "id = \"row\"\n[grid]\nrows = 1\ncolumns = 4\npatch_mm = [40, 40]\npitch_mm = [50, 50]\n\
                [[card]]\ncard = \"grey-18\"\nplace = \"above\"\n";
    std::fs::write(&path, text).unwrap();
    crate::panel::read(&path).unwrap()
}

/// Where a shadow's edge crosses a sheet that its evenness alone tells, that edge may pass for one of its own: another way of seeing the same sheet says so.
#[test]
fn an_even_sheet_that_may_lie_turned_is_in_doubt() {
    let panel = above();
    let placed = &panel.cards[0];
    let size = placed.card.outer().width.min(placed.card.outer().height);
    let like = |degrees: f64, score: f64, even: bool| Found {
        pose: at(95.0, -size, degrees),
        even,
        ..sighting(score)
    };
    let search = |even: bool, turned: f64| {
        let seen = vec![like(0.0, 5.0, even), like(turned, 4.2, false)];
        let sightings = Sightings {
            seen,
            faint: Vec::new(),
        };
        sightings.at_its_place(&panel, placed, &Motion::identity())
    };
    assert!(matches!(search(true, 10.0), Search::Doubtful));
    // A degree or two is what edges are seen to; and edges of its own tell how a sheet lies.
    assert!(matches!(search(true, 2.0), Search::Found(it) if it.pose.angle.abs() < 1e-9));
    assert!(matches!(search(false, 10.0), Search::Found(it) if it.pose.angle.abs() < 1e-9));
}
