use super::*;

/// A sheet of 60 pixels from (50, 50) on that a soft edge parts from a table hardly lighter, in noise of a fixed pattern.
fn dim() -> View {
    let mut state = 1_u32;
    let mut noise = || {
        // A linear congruential generator, its upper bits between −1 and 1.
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let [.., high, highest] = state.to_le_bytes();
        f32::from(u16::from_le_bytes([high, highest])) / 32_768.0 - 1.0
    };
    let inside = |at: u8| (f32::from(at) - 80.0).abs();
    let pixels = (0_u8..160).flat_map(|y| (0_u8..160).map(move |x| (x, y)));
    let colour = |(x, y): (u8, u8)| {
        let beyond = inside(x).max(inside(y)) - 30.0;
        let step = (beyond / 2.0).clamp(-1.0, 1.0);
        [50.0 + 3.0 * step + 4.2 * noise(), 0.0, 0.0]
    };
    View {
        factor: 1,
        width: 160,
        height: 160,
        pixels: pixels.map(colour).collect(),
    }
}

#[test]
fn what_noise_hides_at_a_views_own_fineness_shows_at_half_of_it() {
    let sheet = |all: Vec<Quad>| {
        let corner = |p: &Point| (p.x - 80.0).abs().min((p.y - 80.0).abs()) > 27.0;
        let size = |it: &&Quad| (it.area / 3600.0 - 1.0).abs() < 0.15;
        all.iter()
            .filter(size)
            .any(|it| it.corners.iter().all(corner))
    };
    assert!(!sheet(find(&dim())));
    assert!(sheet(coarse(&dim())));
}
