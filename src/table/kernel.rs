//! The vector kernels: add a multiple of one slice to another, on the widest registers there are.

use pulp::Arch;

use super::HARD;

/// An integer that counts tuples; arithmetic wraps, so that a lift undoes a place exactly.
pub(super) trait Count:
    Copy + Default + PartialEq + Send + Sync + std::fmt::Debug + 'static
{
    fn from_i64(value: i64) -> Self;
    fn to_i64(self) -> i64;
    /// `dst[i] += factor * src[i]`.
    fn add(arch: Arch, dst: &mut [Self], src: &[Self], factor: Self);
    /// `dst[i] += factor * (a[i] + b[i])`: one pass over `dst` for two sources.
    fn add_two(arch: Arch, dst: &mut [Self], a: &[Self], b: &[Self], factor: Self);
    /// `self * factor`.
    fn times(self, factor: Self) -> i64;
    /// `self + other`.
    fn plus(self, other: Self) -> Self;
    /// `self * factor`, as narrow.
    fn mul(self, factor: Self) -> Self;
    /// `-self`.
    fn negated(self) -> Self;
}

macro_rules! count {
    ($type:ty) => {
        impl Count for $type {
            fn from_i64(value: i64) -> Self {
                value as Self
            }

            #[inline(always)]
            fn to_i64(self) -> i64 {
                i64::from(self)
            }

            fn add(arch: Arch, dst: &mut [Self], src: &[Self], factor: Self) {
                arch.dispatch(
                    #[inline(always)]
                    || match factor {
                        1 => dst.iter_mut().zip(src).for_each(|(d, s)| *d = d.wrapping_add(*s)),
                        -1 => dst.iter_mut().zip(src).for_each(|(d, s)| *d = d.wrapping_sub(*s)),
                        _ => dst
                            .iter_mut()
                            .zip(src)
                            .for_each(|(d, s)| *d = d.wrapping_add(s.wrapping_mul(factor))),
                    },
                );
            }

            fn add_two(arch: Arch, dst: &mut [Self], a: &[Self], b: &[Self], factor: Self) {
                arch.dispatch(
                    #[inline(always)]
                    || {
                        let sums = dst.iter_mut().zip(a.iter().zip(b));
                        let sums = sums.map(|(d, (x, y))| (d, x.wrapping_add(*y)));
                        match factor {
                            1 => sums.for_each(|(d, sum)| *d = d.wrapping_add(sum)),
                            -1 => sums.for_each(|(d, sum)| *d = d.wrapping_sub(sum)),
                            _ => sums
                                .for_each(|(d, sum)| *d = d.wrapping_add(sum.wrapping_mul(factor))),
                        }
                    },
                );
            }

            #[inline(always)]
            fn times(self, factor: Self) -> i64 {
                i64::from(self.wrapping_mul(factor))
            }

            fn plus(self, other: Self) -> Self {
                self.wrapping_add(other)
            }

            fn mul(self, factor: Self) -> Self {
                self.wrapping_mul(factor)
            }

            fn negated(self) -> Self {
                self.wrapping_neg()
            }
        }
    };
}

count!(i32);
count!(i64);

/// `row[i] += weight * counts[i * step]`.
pub(super) fn weigh<T: Count>(arch: Arch, row: &mut [i64], counts: &[T], step: usize, weight: i64) {
    // A hard weight is a multiple of 2^32: multiply in the narrow type and shift.
    if step > 1 {
        row.iter_mut()
            .zip(counts.iter().step_by(step))
            .for_each(|(r, c)| *r = r.wrapping_add(weight.wrapping_mul(c.to_i64())));
    } else if weight % HARD == 0 {
        let factor = T::from_i64(weight / HARD);
        arch.dispatch(
            #[inline(always)]
            || {
                for (r, c) in row.iter_mut().zip(counts) {
                    *r = r.wrapping_add(c.times(factor) * HARD);
                }
            },
        );
    } else {
        arch.dispatch(
            #[inline(always)]
            || {
                for (r, c) in row.iter_mut().zip(counts) {
                    *r = r.wrapping_add(weight.wrapping_mul(c.to_i64()));
                }
            },
        );
    }
}

/// The least entry. `i64::MAX` for an empty row.
pub(super) fn least(arch: Arch, row: &[i64]) -> i64 {
    arch.dispatch(
        #[inline(always)]
        || row.iter().fold(i64::MAX, |least, &cost| least.min(cost)),
    )
}
