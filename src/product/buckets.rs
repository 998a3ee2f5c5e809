//! An index over sorted sums: where a value would stand, from one table entry and a short search.

/// Sorted sums cut into buckets of equal width, about one bucket for every four sums.
#[derive(Debug)]
pub(super) struct Buckets {
    lowest: i64,
    shift: u32,
    /// `starts[b]`: how many sums lie below `lowest + (b << shift)`.
    starts: Vec<u32>,
}

impl Buckets {
    /// The index over ascending sums, at most 2^32 of them. O(n).
    pub(super) fn new(ascending: impl ExactSizeIterator<Item = i64> + Clone) -> Self {
        let lowest = ascending.clone().next().unwrap_or(0);
        let width = (ascending.clone().last().unwrap_or(0) - lowest) as u64;
        let wanted = (ascending.len() as u64 / 4).max(1);
        let shift = (width / wanted + 1).next_power_of_two().trailing_zeros();
        let mut starts = vec![0; (width >> shift) as usize + 2];
        for sum in ascending {
            starts[((sum - lowest) >> shift) as usize + 1] += 1;
        }
        let mut total = 0;
        for start in &mut starts {
            total += *start;
            *start = total;
        }
        Self { lowest, shift, starts }
    }

    /// How many sums lie below `value`; `sums` are those the index was made of, read by `sum_of`.
    /// O(1) for sums that are spread evenly, O(log n) at worst.
    pub(super) fn below<T>(&self, value: i64, sums: &[T], sum_of: impl Fn(&T) -> i64) -> usize {
        let Ok(distance) = u64::try_from(value - self.lowest) else { return 0 };
        let bucket = (distance >> self.shift) as usize;
        let Some(&end) = self.starts.get(bucket + 1) else { return sums.len() };
        let start = self.starts[bucket] as usize;
        start + sums[start..end as usize].partition_point(|sum| sum_of(sum) < value)
    }
}
