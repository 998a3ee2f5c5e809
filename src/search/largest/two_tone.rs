//! Products of two carriers, 2A-B to 5A-4B: where they leave no room for one more carrier.

/// How many forms there are: the A of the first counts twice, of the last five times.
pub(super) const FORMS: usize = 4;

/// Guards of 2A-B, 3A-2B, 4A-3B and 5A-4B in raster steps, 0 where a form does not count.
pub(super) type Guards = [usize; FORMS];

/// The place of a form among these, by its coefficients.
pub(super) fn place(coefficients: &[i32]) -> Option<usize> {
    match *coefficients {
        [p @ 2..=5, q] if q == 1 - p => Some(p as usize - 2),
        _ => None,
    }
}

/// Tell the positions, from and to, that two carriers bar to a third one under guards.
///
/// With p A - q B on C each of the three may be the third: C = p A - q B; A = (C + q B) / p; B = (p A - C) / q.
#[inline]
pub(super) fn barred(guards: &Guards, x: i64, y: i64, mut bar: impl FnMut(i64, i64)) {
    for (&guard, p) in guards.iter().zip(2..) {
        if guard == 0 {
            continue;
        }
        let (wide, q) = (guard as i64 - 1, p - 1);
        for (a, b) in [(x, y), (y, x)] {
            bar(p * a - q * b - wide, p * a - q * b + wide);
            bar(within(b + q * a - wide, p), (b + q * a + wide).div_euclid(p));
            if q == 1 {
                continue;
            }
            bar(within(p * a - b - wide, q), (p * a - b + wide).div_euclid(q));
        }
    }
}

/// The quotient, rounded up.
fn within(dividend: i64, divisor: i64) -> i64 {
    (dividend + divisor - 1).div_euclid(divisor)
}

/// How many products of two others fall on, or are made with, each carrier of a set.
fn hits(guards: &Guards, set: &[usize], count: &mut Vec<usize>) -> usize {
    count.clear();
    count.resize(set.len(), 0);
    let mut all = 0;
    for (&guard, p) in guards.iter().zip(2_i64..) {
        if guard == 0 {
            continue;
        }
        for (i, &a) in set.iter().enumerate() {
            for (j, &b) in set.iter().enumerate().filter(|&(j, _)| j != i) {
                let product = p * a as i64 - (p - 1) * b as i64;
                let low = product - guard as i64 + 1;
                let from = set.partition_point(|&c| (c as i64) < low);
                let near = set[from..].iter().take_while(|&&c| (c as i64) < product + guard as i64);
                for k in (from..from + near.count()).filter(|&k| k != i && k != j) {
                    all += 1;
                    for at in [i, j, k] {
                        count[at] += 1;
                    }
                }
            }
        }
    }
    all
}

/// Take carriers off, those in most hits first, until no product of two falls on a third.
pub(super) fn thin(guards: &Guards, set: &mut Vec<usize>, count: &mut Vec<usize>) {
    while hits(guards, set, count) > 0 {
        let worst = (0..set.len()).max_by_key(|&at| (count[at], at)).unwrap_or(0);
        set.remove(worst);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_barred_is_what_a_product_would_meet() {
        for guards in [[1, 0, 0, 0], [0, 3, 0, 0], [0, 0, 2, 0], [2, 1, 0, 4]] {
            for (x, y) in [(20, 33), (33, 20), (7, 8), (50, 10)] {
                let mut marked = [false; 61];
                barred(&guards, x, y, |low, high| {
                    (low.max(0)..=high.min(60)).for_each(|at| marked[at as usize] = true);
                });
                for z in (0..61).filter(|&z| z != x && z != y) {
                    let set = [x, y, z];
                    let hit = |i: usize, j: usize, k: usize| {
                        guards.iter().zip(2..).any(|(&guard, p): (&usize, i64)| {
                            (p * set[i] - (p - 1) * set[j] - set[k]).abs() < guard as i64
                        })
                    };
                    let orders = [(0, 1, 2), (1, 0, 2), (0, 2, 1), (2, 0, 1), (1, 2, 0), (2, 1, 0)];
                    let met = orders.into_iter().any(|(i, j, k)| hit(i, j, k));
                    assert_eq!(marked[z as usize], met, "{guards:?}: {set:?}");
                    let mut sorted = set.map(|at| at as usize).to_vec();
                    sorted.sort_unstable();
                    assert_eq!(hits(&guards, &sorted, &mut vec![]) > 0, met);
                    thin(&guards, &mut sorted, &mut vec![]);
                    assert_eq!(sorted.len(), if met { 2 } else { 3 });
                }
            }
        }
    }

    #[test]
    fn forms_of_two_letters_have_their_place() {
        assert_eq!([&[2, -1][..], &[5, -4]].map(place), [Some(0), Some(3)]);
        assert_eq!([&[1, 1, -1][..], &[6, -5], &[3, -1, -1]].map(place), [None; 3]);
    }
}
