//! Normal deviates for looking ahead.
//!
//! Must not know what they are for.

/// Normal deviates that are the same each time, so that the same takes get the same answer.
pub(in crate::diagnosis) struct Random {
    state: u64,
}

impl Random {
    pub(in crate::diagnosis) fn new() -> Random {
        Random { state: 0x9E37_79B9_7F4A_7C15 }
    }

    fn uniform(&mut self) -> f64 {
        self.state =
            self.state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.state >> 11) as f64 / (1u64 << 53) as f64
    }

    /// The sum of twelve uniform deviates is normal enough for costs.
    pub(in crate::diagnosis) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}
