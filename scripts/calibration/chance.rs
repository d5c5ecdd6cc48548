//! Seeded random numbers, so that a run repeats.

/// A generator of 64-bit numbers: SplitMix64 (G. L. Steele, D. Lea & C. H. Flood, OOPSLA 2014; from memory).
pub struct Chance {
    state: u64,
}

impl Chance {
    /// Case `number` of a run with this seed: every case has a stream of its own, whatever ran before it.
    pub fn of_case(seed: u64, number: u64) -> Chance {
        let mut mixed = Chance { state: seed };
        let start = mixed.next();
        Chance { state: start ^ number.wrapping_mul(0xD1B5_4A32_D192_ED03) }
    }

    fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform from 0 to 1, 1 excluded.
    pub fn uniform(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform between two values.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Uniform in the logarithm between two positive values.
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// A whole number from `low` to `high`, both included.
    pub fn whole(&mut self, low: usize, high: usize) -> usize {
        low + (self.uniform() * (high - low + 1) as f64) as usize
    }

    /// True with this probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// A standard normal deviate (G. E. P. Box & M. E. Muller, Ann. Math. Stat. 29 (1958) 610; from memory).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }

    /// An index, each as likely as its weight.
    pub fn index(&mut self, weights: impl Iterator<Item = f64> + Clone) -> usize {
        let mut left = self.uniform() * weights.clone().sum::<f64>();
        let mut last = 0;
        for (index, weight) in weights.enumerate() {
            if left < weight {
                return index;
            }
            left -= weight;
            last = index;
        }
        last
    }
}
