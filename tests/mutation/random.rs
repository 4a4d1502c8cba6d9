//! Chance that is the same in every run.

/// SplitMix64 (Steele, Lea and Flood, 2014), seeded from a text.
pub struct Random(u64);

impl Random {
    pub fn seeded(text: &str) -> Self {
        // FNV-1a, so that each report and kind has changes of its own.
        let start = 0xcbf2_9ce4_8422_2325_u64;
        Self(text.bytes().fold(start, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3)))
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `end`; 0 where there is none.
    pub fn below(&mut self, end: usize) -> usize {
        if end == 0 { 0 } else { (self.next() % end as u64) as usize }
    }

    pub fn pick<'a, T>(&mut self, list: &'a [T]) -> Option<&'a T> {
        list.get(self.below(list.len()))
    }
}
