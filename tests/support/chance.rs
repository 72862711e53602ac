//! Chance that is the same in every run.

/// A generator of numbers that look thrown (xorshift), from a seed that is not zero.
pub struct Chance(pub u64);

impl Chance {
    /// A number below a limit.
    pub fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % limit.max(1) as u64) as usize
    }
}
