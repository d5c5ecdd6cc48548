//! The independent computation. SI units.

use std::f64::consts::PI;

use borescribe::air::Air;
use complex_bessel::besselj;
use num_complex::Complex64;

pub const J: Complex64 = Complex64::new(0.0, 1.0);

/// Something at one place of the bore.
#[derive(Clone, Copy)]
pub enum Lump {
    /// Hole radius, chimney height, outer radius of the tube in which it ends flush, open or closed.
    FlushHole { radius: f64, height: f64, tube_outer: f64, open: bool },
    /// A round channel: radius and length.
    Channel { radius: f64, length: f64 },
}

/// A bore with one straight taper and an unflanged end, closed by a stiff wall at the top.
pub struct Horn {
    pub top: f64,
    pub bottom: f64,
    pub length: f64,
    /// Place from the top, rising.
    pub lumps: Vec<(f64, Lump)>,
    pub air: Air,
    /// Steps for the whole length.
    pub steps: usize,
}

/// `Z'` and `Y'` of Zwikker and Kosten.
fn per_metre(radius: f64, omega: f64, air: &Air) -> (Complex64, Complex64) {
    let ratio = |z: Complex64| 2.0 * besselj(1.0, z).unwrap() / (z * besselj(0.0, z).unwrap());
    // J with argument −j q, q = r √(jωρ/η).
    let q = radius * (J * omega * air.density / air.viscosity).sqrt();
    let area = PI * radius * radius;
    let viscous = ratio(-J * q);
    let thermal = ratio(-J * q * air.root_prandtl);
    (
        J * omega * air.density / area / (1.0 - viscous),
        J * omega * area / (air.density * air.speed.powi(2)) * (1.0 + (air.heat_ratio - 1.0) * thermal),
    )
}

/// F. Silva et al., J. Sound Vib. 322 (2009) 255, unflanged (coefficients from memory).
fn unflanged(radius: f64, omega: f64, air: &Air) -> Complex64 {
    let ka = omega / air.speed * radius;
    let k2 = ka * ka;
    let modulus = (1.0 + 0.8 * k2) / (1.0 + 1.3 * k2 + 0.266 * k2 * k2 + 0.0263 * k2 * k2 * k2);
    let length = 0.6133 * (1.0 + 0.0599 * k2) / (1.0 + 0.238 * k2 - 0.0153 * k2 * k2 + 0.0015 * k2 * k2 * k2);
    let r = -modulus * (-2.0 * J * ka * length).exp();
    air.density * air.speed / (PI * radius * radius) * (1.0 + r) / (1.0 - r)
}

/// Channel with both flanged ends and a small source's radiation.
fn channel(radius: f64, length: f64, omega: f64, air: &Air) -> Complex64 {
    let (series, shunt) = per_metre(radius, omega, air);
    let propagation = (series * shunt).sqrt();
    series / propagation * (propagation * length).tanh()
        + J * omega * air.density * 1.6432 / (PI * radius)
        + air.density * omega * omega / (2.0 * PI * air.speed)
}

/// Series length (in bore lengths) and branch impedance of a flush hole.
///
/// A. Lefebvre & G. P. Scavone, J. Acoust. Soc. Am. 131 (2012) 3153; J.-P. Dalmont et al., J. Sound Vib. 244
/// (2001) 505; D. H. Keefe, J. Acoust. Soc. Am. 87 (1990) 35 (all from memory).
fn flush_hole(
    bore: f64,
    (radius, height, tube_outer): (f64, f64, f64),
    open: bool,
    omega: f64,
    air: &Air,
) -> (f64, Complex64) {
    let d = radius / bore;
    let area = PI * radius * radius;
    let inner = radius
        * (0.822 - 0.095 * d - 1.566 * d * d + 2.138 * d.powi(3) - 1.64 * d.powi(4) + 0.502 * d.powi(5));
    let saddle = radius * d / 8.0 * (1.0 + 0.207 * d.powi(3));
    let series = if open {
        -radius * d * d * (0.35 - 0.06 * (2.7 * height / radius).tanh())
    } else {
        -radius * d * d * (0.12 + 0.17 * (2.4 * height / radius).tanh())
    };
    let (z, y) = per_metre(radius, omega, air);
    let propagation = (z * y).sqrt();
    let (characteristic, tanh) = (z / propagation, (propagation * (height + saddle)).tanh());
    let chimney = if open {
        let outer = radius * (0.822 - 0.47 * (radius / tube_outer).powf(0.8));
        let kb = omega / air.speed * radius;
        let mouth = air.density * air.speed / area * kb * kb / 2.0 + J * omega * air.density * outer / area;
        characteristic * (mouth + characteristic * tanh) / (characteristic + mouth * tanh)
    } else {
        characteristic / tanh
    };
    (series, chimney + J * omega * air.density * inner / area)
}

impl Horn {
    /// Input admittance at the top in units of S/ρc.
    pub fn admittance(&self, hz: f64) -> Complex64 {
        let omega = 2.0 * PI * hz;
        let air = &self.air;
        let radius_at = |x: f64| self.top + (self.bottom - self.top) * x / self.length;
        let mut p = unflanged(self.bottom, omega, air);
        let mut u = Complex64::new(1.0, 0.0);
        let mut x = self.length;
        let mut stops: Vec<(f64, Option<Lump>)> =
            self.lumps.iter().map(|&(at, lump)| (at, Some(lump))).collect();
        stops.insert(0, (0.0, None));
        for (at, lump) in stops.into_iter().rev() {
            let count = ((x - at) / self.length * self.steps as f64).ceil().max(1.0);
            let h = (x - at) / count;
            let mut here = per_metre(radius_at(x), omega, air);
            for _ in 0..count as usize {
                // Upward: d/ds = −d/dx, so p' = Z'U and U' = Y'p.
                let middle = per_metre(radius_at(x - 0.5 * h), omega, air);
                let next = per_metre(radius_at(x - h), omega, air);
                let slope = |(z, y): (Complex64, Complex64), p: Complex64, u: Complex64| (z * u, y * p);
                let k1 = slope(here, p, u);
                let k2 = slope(middle, p + 0.5 * h * k1.0, u + 0.5 * h * k1.1);
                let k3 = slope(middle, p + 0.5 * h * k2.0, u + 0.5 * h * k2.1);
                let k4 = slope(next, p + h * k3.0, u + h * k3.1);
                p += h / 6.0 * (k1.0 + 2.0 * k2.0 + 2.0 * k3.0 + k4.0);
                u += h / 6.0 * (k1.1 + 2.0 * k2.1 + 2.0 * k3.1 + k4.1);
                here = next;
                x -= h;
            }
            x = at;
            match lump {
                Some(Lump::FlushHole { radius, height, tube_outer, open }) => {
                    let bore = radius_at(at);
                    let (length, branch) = flush_hole(bore, (radius, height, tube_outer), open, omega, air);
                    let half = J * omega * air.density * length / (2.0 * PI * bore * bore);
                    p += half * u;
                    u += p / branch;
                    p += half * u;
                }
                Some(Lump::Channel { radius, length }) => u += p / channel(radius, length, omega, air),
                None => {}
            }
        }
        u / p * air.density * air.speed / (PI * self.top * self.top)
    }

    /// The zero of Im Y nearest to `near_hz`, by the secant rule.
    pub fn zero_near(&self, near_hz: f64) -> f64 {
        let (mut a, mut b) = (near_hz * 0.9995, near_hz);
        let (mut fa, mut fb) = (self.admittance(a).im, self.admittance(b).im);
        for _ in 0..8 {
            let c = b - fb * (b - a) / (fb - fa);
            if !c.is_finite() || (c - b).abs() < 1e-8 * b {
                break;
            }
            (a, fa) = (b, fb);
            (b, fb) = (c, self.admittance(c).im);
        }
        b
    }
}
