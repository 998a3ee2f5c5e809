//! Finite fields of prime-power order, as tables, and the powers of a generator of an extension.

/// GF(q), elements numbered 0..q with 0 and 1 in their places.
#[derive(Debug, Clone)]
pub(super) struct Field {
    pub(super) order: usize,
    add: Vec<u16>,
    mul: Vec<u16>,
}

/// `q` as a power of a prime, if it is one.
pub(super) fn prime_power(q: usize) -> Option<(usize, u32)> {
    let p = (2..=q).find(|p| q.is_multiple_of(*p))?;
    let (mut rest, mut k) = (q, 0);
    while rest.is_multiple_of(p) {
        rest /= p;
        k += 1;
    }
    (rest == 1).then_some((p, k))
}

impl Field {
    /// GF(q) for a prime power q below 1,024; O(q^2 log q).
    pub(super) fn new(order: usize) -> Option<Self> {
        let (p, k) = prime_power(order).filter(|_| order < 1_024)?;
        let k = k as usize;
        let digits = |mut n: usize| -> Vec<usize> {
            (0..k)
                .map(|_| {
                    let digit = n % p;
                    n /= p;
                    digit
                })
                .collect()
        };
        let number = |digits: &[usize]| digits.iter().rev().fold(0, |n, d| n * p + d);
        // A polynomial of degree k whose root generates all non-zero elements is irreducible.
        let powers = (0..order).find_map(|low| {
            let tail = digits(low);
            let mut powers = Vec::with_capacity(order - 1);
            let mut x = digits(1 % order);
            for _ in 0..order - 1 {
                powers.push(number(&x));
                let top = x[k - 1];
                x.rotate_right(1);
                x[0] = 0;
                for (digit, t) in x.iter_mut().zip(&tail) {
                    *digit = (*digit + p * p - top * t) % p;
                }
                if k == 1 {
                    // Degree one: the root of x + t is the number -t itself.
                    x[0] = (powers[powers.len() - 1] * (p - tail[0])) % p;
                }
            }
            let mut sorted = powers.clone();
            sorted.sort_unstable();
            sorted.dedup();
            (sorted.len() == order - 1 && sorted[0] != 0).then_some(powers)
        })?;
        let mut logarithm = vec![0; order];
        for (i, &x) in powers.iter().enumerate() {
            logarithm[x] = i;
        }
        let mut add = vec![0; order * order];
        let mut mul = vec![0; order * order];
        for a in 0..order {
            for b in 0..order {
                let sum: Vec<usize> =
                    digits(a).iter().zip(digits(b)).map(|(x, y)| (x + y) % p).collect();
                add[a * order + b] = number(&sum) as u16;
                if a > 0 && b > 0 {
                    mul[a * order + b] = powers[(logarithm[a] + logarithm[b]) % (order - 1)] as u16;
                }
            }
        }
        Some(Self { order, add, mul })
    }

    fn add(&self, a: u16, b: u16) -> u16 {
        self.add[a as usize * self.order + b as usize]
    }

    fn mul(&self, a: u16, b: u16) -> u16 {
        self.mul[a as usize * self.order + b as usize]
    }

    /// A walk over the powers 1, x, x^2, ... of a generator of GF(q^degree), as coefficient vectors of
    /// length `degree`, lowest first; `period` is the number of steps after which `closed` must first
    /// hold, which is how a generator is recognised.
    pub(super) fn generator(
        &self,
        degree: usize,
        period: usize,
        closed: impl Fn(&[u16]) -> bool,
    ) -> Option<Vec<Vec<u16>>> {
        // Monic polynomials x^degree - tail; a few hundred tries find a primitive one.
        let tails = self.order.pow(degree as u32);
        (1..tails).find_map(|code| {
            let mut rest = code;
            let tail: Vec<u16> = (0..degree)
                .map(|_| {
                    let digit = rest % self.order;
                    rest /= self.order;
                    digit as u16
                })
                .collect();
            if tail[0] == 0 {
                return None;
            }
            let mut x = vec![0; degree];
            x[0] = 1;
            let mut walk = Vec::with_capacity(period);
            for step in 0..period {
                if step > 0 && closed(&x) {
                    return None;
                }
                walk.push(x.clone());
                let top = x[degree - 1];
                x.rotate_right(1);
                x[0] = 0;
                for (digit, &t) in x.iter_mut().zip(&tail) {
                    *digit = self.add(*digit, self.mul(top, t));
                }
            }
            closed(&x).then_some(walk)
        })
    }
}
