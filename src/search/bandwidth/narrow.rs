//! A plan brought into a narrower window.

use super::state::Shape;

/// Move a plan so that its lowest carrier stands at 0.
pub(super) fn to_zero(plan: &mut [i32]) {
    let low = plan.iter().min().copied().unwrap_or(0);
    for at in plan {
        *at -= low;
    }
}

/// Cut positions out until a plan that begins at 0 fits into `window` of them.
///
/// All carriers above a cut come down by one step; the cut is made where it breaks the fewest distances that
/// hold exactly or are missed already. O(steps * close pairs of carriers).
pub(super) fn into(shape: &Shape, plan: &mut [i32], window: i32) {
    while let Some(top) = plan.iter().copied().max().filter(|&top| top >= window) {
        // How many distances a cut below each position would break.
        let mut change = vec![0_i64; top as usize + 2];
        for (class, near) in shape.near.iter().enumerate() {
            for &(other, gap) in near {
                for &low in &plan[shape.members(class)] {
                    for &high in &plan[shape.members(other as usize)] {
                        if low < high && high - low <= gap {
                            change[low as usize + 1] += 1;
                            change[high as usize + 1] -= 1;
                        }
                    }
                }
            }
        }
        let mut broken = 0;
        let cuts = change[1..=top as usize].iter().zip(1..).map(|(change, at)| {
            broken += change;
            (broken, at)
        });
        let at = cuts.min().map_or(top, |(_, at)| at);
        for above in plan.iter_mut().filter(|it| **it >= at) {
            *above -= 1;
        }
    }
}
