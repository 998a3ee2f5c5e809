//! Costs by class against full recounts, and cuts, on random classes and distances.

use proptest::prelude::*;

use super::narrow;
use super::state::{Shape, State, missed};
use crate::search::sequence::Frame;

/// Carriers of each class, and least distances between them (symmetric).
fn frame() -> impl Strategy<Value = Frame> {
    (2_usize..6)
        .prop_flat_map(|n| {
            (prop::collection::vec(1_i64..4, n), prop::collection::vec(0_i64..6, n * n))
        })
        .prop_map(|(sizes, mut gaps)| {
            let n = sizes.len();
            for a in 0..n {
                for b in 0..a {
                    gaps[a * n + b] = gaps[b * n + a];
                }
                gaps[a * n + a] = gaps[a * n + a].max(1);
            }
            Frame::with(sizes, gaps)
        })
}

/// What all carriers miss beside each other, pair by pair.
fn recounted(frame: &Frame, shape: &Shape, plan: &[i32]) -> i64 {
    let n = frame.sizes.len();
    let mut sum = 0;
    for a in 0..plan.len() {
        for b in 0..a {
            let gap = frame.gaps[shape.class[a] as usize * n + shape.class[b] as usize];
            sum += i64::from(missed(gap as i32, plan[a] - plan[b]));
        }
    }
    sum
}

proptest! {
    #[test]
    fn costs_are_those_of_a_recount(
        frame in frame(),
        moves in prop::collection::vec((0_usize..100, 0_i32..12), 1..40),
    ) {
        let window = 12;
        let shape = Shape::of(&frame, window as usize).expect("a small one");
        let mut state = State::new(&shape);
        let mut plan: Vec<i32> = (0..shape.class.len() as i32).map(|i| i * 5 % window).collect();
        state.load(&plan, window);
        prop_assert_eq!(state.total, recounted(&frame, &shape, &plan));
        for (carrier, at) in moves {
            let carrier = carrier % plan.len();
            let before = recounted(&frame, &shape, &plan);
            let change = i64::from(state.cost(carrier, at) - state.here(carrier));
            plan[carrier] = at;
            let after = recounted(&frame, &shape, &plan);
            prop_assert_eq!(change, after - before);
            state.assign(carrier, at);
            prop_assert_eq!(state.total, after);
            prop_assert_eq!(&state.plan, &plan);
        }
    }

    #[test]
    fn cuts_bring_a_plan_into_the_window(
        frame in frame(),
        start in prop::collection::vec(0_i32..30, 20),
        window in 1_i32..30,
    ) {
        let shape = Shape::of(&frame, 30).expect("a small one");
        let mut plan = start[..shape.class.len()].to_vec();
        narrow::to_zero(&mut plan);
        let before = plan.clone();
        narrow::into(&shape, &mut plan, window);
        prop_assert!(plan.iter().all(|at| (0..window).contains(at)));
        // Who was lower stays lower, or level.
        for a in 0..plan.len() {
            for b in 0..plan.len() {
                prop_assert!(before[a] > before[b] || plan[a] <= plan[b]);
            }
        }
    }
}
