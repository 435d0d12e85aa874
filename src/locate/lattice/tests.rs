use super::*;
use proptest::prelude::*;

proptest! {
    #[test]
    fn a_frontier_is_what_lies_so_far_from_a_found_cell(
        cells in prop::collection::btree_set((-3..4_i32, -2..3_i32), 1..12),
        reach in (1..5_i32, 1..4_i32), from in 1..4_i32, more in 0..3_i32,
    ) {
        let reach = [reach.0, reach.1];
        let within = |it: &(i32, i32)| it.0.abs() < reach[0] && it.1.abs() < reach[1];
        let found: Found = cells.iter().filter(|it| within(it)).map(|it| (*it, (0, 0))).collect();
        let mut expected = Vec::new();
        for i in -4..5_i32 {
            for j in -4..5_i32 {
                let beside = found.keys().any(|it| {
                    let (x, y) = ((it.0 - i).abs(), (it.1 - j).abs());
                    x.min(y) == 0 && (from..=from + more).contains(&x.max(y))
                });
                if beside && within(&(i, j)) && !found.contains_key(&(i, j)) {
                    expected.push((i, j));
                }
            }
        }
        prop_assert_eq!(frontier(&found, reach, from..=from + more), expected);
    }
}
