//! Planning: cases worked by hand, and what holds for all plans.
//!
//! A load is grams of pigment per 100 g of mixed coating, all parts, before pigment. The numbers of `by_hand` and `job` are
//! worked out on paper in the comments; `laws` pours every plan out again with its own bookkeeping of masses.

#![expect(clippy::unwrap_used, reason = "a test that fails here says so")]

mod by_hand;
mod cost;
mod job;
mod laws;
mod like;
mod planned;
mod pot_life;
mod schema;
mod sheet;
