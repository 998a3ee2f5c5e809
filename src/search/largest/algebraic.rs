//! Algebraic Sidon sets and their kin of higher fold: Singer, Bose and Chowla, Ruzsa, Erdos and Turan.

use super::field::{Field, prime_power};

/// A set whose pairwise (or h-fold) sums are distinct modulo `modulus`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Modular {
    pub(super) elements: Vec<i64>,
    pub(super) modulus: i64,
    /// Multiplying by this only rotates the set.
    pub(super) multiplier: i64,
}

/// Singer 1938: q + 1 elements modulo q^2 + q + 1, every non-zero difference once.
pub(super) fn singer(q: usize) -> Option<Modular> {
    let field = Field::new(q)?;
    let modulus = q * q + q + 1;
    // Powers of a generator, up to scalars; a plane through the origin meets them in q + 1 points.
    let scalar = |x: &[u16]| x[1] == 0 && x[2] == 0;
    let walk = field.generator(3, modulus, scalar)?;
    Some(collect(&walk, modulus, q, |x| x[2] == 0))
}

/// Bose 1942 and Bose and Chowla 1962: q elements modulo q^h - 1 with distinct h-fold sums.
pub(super) fn bose_chowla(q: usize, h: usize) -> Option<Modular> {
    let field = Field::new(q)?;
    let modulus = q.checked_pow(h as u32)? - 1;
    let one = |x: &[u16]| x[0] == 1 && x[1..].iter().all(|&c| c == 0);
    let walk = field.generator(h, modulus, one)?;
    // The powers that differ from the generator by a constant.
    let shifted = |x: &[u16]| x[1] == 1 && x[2..].iter().all(|&c| c == 0);
    // In the plane the q-th power of the generator is a multiple of it plus a constant; higher up it is not.
    Some(collect(&walk, modulus, if h == 2 { q } else { 1 }, shifted))
}

/// Ruzsa 1993: p - 1 elements modulo p (p - 1), p prime.
pub(super) fn ruzsa(p: usize) -> Option<Modular> {
    let prime = matches!(prime_power(p), Some((_, 1)));
    let p = p as i64;
    let root = (2..p).find(|&g| {
        let mut x = g;
        (1..p - 1).all(|_| {
            let generates = x != 1;
            x = x * g % p;
            generates
        })
    });
    let root = root.filter(|_| prime)?;
    let modulus = p * (p - 1);
    let mut power = 1;
    let mut elements: Vec<i64> = (1..p)
        .map(|i| {
            power = power * root % p;
            (p * i - (p - 1) * power).rem_euclid(modulus)
        })
        .collect();
    elements.sort_unstable();
    Some(Modular { elements, modulus, multiplier: 1 })
}

fn collect(
    walk: &[Vec<u16>],
    modulus: usize,
    multiplier: usize,
    keep: impl Fn(&[u16]) -> bool,
) -> Modular {
    let elements = (0..modulus).filter(|&i| keep(&walk[i])).map(|i| i as i64).collect();
    Modular { elements, modulus: modulus as i64, multiplier: multiplier as i64 }
}

/// The most elements of all cyclic groups together through which constructions walk: some tenths of a second.
const WALK: usize = 2_000_000;

/// Constructions of the kind wanted with a modulus from `low` to `high`, smallest first: all of them, or as many as
/// take little time, those nearest to `middle`.
///
/// Erdos and Turan's sets (1941) span twice the length for the same size and never win; they are left out.
pub(super) fn constructions(h: usize, [low, middle, high]: [i64; 3]) -> Vec<Modular> {
    type Length = fn(usize, usize) -> Option<usize>;
    type Make = fn(usize, usize) -> Option<Modular>;
    let kinds: [(Length, Make); 3] = [
        (|q, h| (h == 2).then_some(q * q + q + 1), |q, _| singer(q)),
        (|q, h| q.checked_pow(h as u32)?.checked_sub(1), bose_chowla),
        (|q, h| (h == 2).then_some(q * q - q), |p, _| ruzsa(p)),
    ];
    let mut near: Vec<(i64, usize, usize, Make)> = Vec::new();
    for q in (2..1_024).take_while(|&q| q * q - q <= high as usize) {
        let power = prime_power(q);
        for (kind, &(modulus, make)) in kinds.iter().enumerate() {
            let exists = power.is_some_and(|(_, exponent)| kind < 2 || exponent == 1);
            if let Some(modulus) = modulus(q, h).filter(|_| exists)
                && (low..=high).contains(&(modulus as i64))
            {
                near.push(((modulus as i64 - middle).abs(), modulus, q, make));
            }
        }
    }
    near.sort_by_key(|&(distance, modulus, q, _)| (distance, modulus, q));
    let mut walked = 0;
    let affordable = near.iter().take_while(|&&(_, modulus, ..)| {
        let first = walked == 0;
        walked += modulus;
        first || walked <= WALK
    });
    let mut all: Vec<Modular> = affordable.filter_map(|&(_, _, q, make)| make(q, h)).collect();
    all.sort_by_key(|set| set.modulus);
    all
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    fn sums_distinct(set: &Modular, h: usize) -> bool {
        fn sums(
            set: &Modular,
            from: usize,
            left: usize,
            sum: i64,
            seen: &mut BTreeSet<i64>,
        ) -> bool {
            if left == 0 {
                return seen.insert(sum % set.modulus);
            }
            (from..set.elements.len()).all(|i| sums(set, i, left - 1, sum + set.elements[i], seen))
        }
        sums(set, 0, h, 0, &mut BTreeSet::new())
    }

    #[test]
    fn constructions_have_the_published_size_modulus_and_property() {
        // Sizes and moduli: Singer 1938, Bose 1942, Ruzsa 1993; the property by exhaustion.
        for q in [2, 3, 4, 5, 7, 8, 9, 11, 13, 16, 25, 27] {
            let set = singer(q).expect("a prime power");
            assert_eq!((set.elements.len(), set.modulus), (q + 1, (q * q + q + 1) as i64));
            assert!(sums_distinct(&set, 2), "Singer {q}");
            let set = bose_chowla(q, 2).expect("a prime power");
            assert_eq!((set.elements.len(), set.modulus), (q, (q * q - 1) as i64));
            assert!(sums_distinct(&set, 2), "Bose {q}");
        }
        for q in [3, 4, 5, 7, 8, 9] {
            let set = bose_chowla(q, 3).expect("a prime power");
            assert_eq!((set.elements.len(), set.modulus), (q, (q * q * q - 1) as i64));
            assert!(sums_distinct(&set, 3), "Bose-Chowla {q}");
        }
        for p in [3, 5, 7, 11, 13] {
            let set = ruzsa(p).expect("a prime");
            assert_eq!((set.elements.len(), set.modulus), (p - 1, (p * p - p) as i64));
            assert!(sums_distinct(&set, 2), "Ruzsa {p}");
        }
        for q in [1, 6, 10, 12] {
            assert!(singer(q).is_none() && bose_chowla(q, 2).is_none() && ruzsa(q).is_none());
        }
        for set in
            [singer(8), singer(7), bose_chowla(9, 2), bose_chowla(5, 3)].into_iter().flatten()
        {
            let image: BTreeSet<i64> =
                set.elements.iter().map(|a| a * set.multiplier % set.modulus).collect();
            let rotated = |t: i64| -> BTreeSet<i64> {
                set.elements.iter().map(|a| (a + t) % set.modulus).collect()
            };
            assert!(
                (0..set.modulus).any(|t| rotated(t) == image),
                "the multiplier rotates the set"
            );
        }
        assert_eq!(ruzsa(5).map(|s| s.elements), Some(vec![3, 14, 16, 17])); // computed by hand
    }

    #[test]
    fn all_constructions_of_a_short_range_and_the_nearest_of_a_long_one() {
        // Singer 9 and 8, Bose 9 and 8, and of the primes alone Ruzsa 11; by the formulae for their moduli.
        let moduli =
            |range| -> Vec<i64> { constructions(2, range).iter().map(|set| set.modulus).collect() };
        assert_eq!(moduli([60, 80, 115]), [63, 73, 80, 91, 110]);
        let far = moduli([350_000, 690_000, 1_035_000]);
        assert!(!far.is_empty() && far.iter().sum::<i64>() <= WALK as i64);
        assert!(far.iter().all(|modulus| (modulus - 690_000).abs() < 20_000), "{far:?}");
    }
}
