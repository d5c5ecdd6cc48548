//! The air inside the instrument: speed of sound, density and what losses need.
//!
//! SI units throughout; temperatures in °C. Must not know instruments, tubes or notes.

/// Air pressure assumed everywhere, Pa. Pressure hardly matters: 5 kPa change the speed of sound
/// by less than 0.02 cent.
pub const STANDARD_PRESSURE_PA: f64 = 101_325.0;

/// Share of CO2 in room air (mole fraction of the dry gas).
pub const ROOM_CO2: f64 = 0.0004;

/// Share of CO2 in the air of an instrument that is being played: about a quarter of it is breath, by its
/// temperature, and breath holds 3 to 5 % (physiology, from memory). It lowers the pitch by 4 cents, about
/// as much as the breath's moisture raises it.
pub const PLAYED_CO2: f64 = 0.01;

/// Coldest and warmest room that is believed, °C (chosen: a workshop that anyone plays in).
pub const ROOM_C: std::ops::RangeInclusive<f64> = -10.0..=45.0;

/// The molar gas constant, J/(mol K) (exact since the 2019 redefinition of the SI).
const GAS_CONSTANT: f64 = 8.314_462_618;

/// Kelvin at 0 °C.
const KELVIN: f64 = 273.15;

/// What the air column needs to know of its air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Density ρ, kg/m³.
    pub density: f64,
    /// Speed of sound c in free air, m/s.
    pub speed: f64,
    /// Viscosity η, Pa s.
    pub viscosity: f64,
    /// Ratio of specific heats γ.
    pub heat_ratio: f64,
    /// Square root of the Prandtl number, ν.
    pub root_prandtl: f64,
}

impl Air {
    /// Dry air by Keefe's linear constants; stated for 16.85 to 36.85 °C.
    ///
    /// Source: D. H. Keefe, J. Acoust. Soc. Am. 75 (1984) 58–62 (from memory; base values seen in a
    /// secondary source). Checked in `tests/published/air.rs`.
    #[must_use]
    pub fn keefe(temperature_c: f64) -> Air {
        let delta = temperature_c - 26.85;
        Air {
            density: 1.1769 * (1.0 - 0.00335 * delta),
            speed: 347.23 * (1.0 + 0.00166 * delta),
            viscosity: 1.846e-5 * (1.0 + 0.00250 * delta),
            heat_ratio: 1.4017 * (1.0 - 0.000_02 * delta),
            root_prandtl: 0.8410 * (1.0 - 0.0002 * delta),
        }
    }

    /// Humid air with CO2 as an ideal-gas mixture; viscosity and Prandtl number after Keefe.
    ///
    /// `temperature_c` in −10…45 °C, `humidity` 0…1, `co2` as mole fraction of the dry gas.
    /// `c = √(γ R T / M)` with handbook molar masses and heat capacities (from memory). Differs from
    /// Cramer's real-gas formula by 0.6 cent in dry air at 20 °C. Checked in
    /// `tests/published/air.rs`.
    #[must_use]
    pub fn mixture(temperature_c: f64, humidity: f64, co2: f64) -> Air {
        let kelvin = temperature_c + KELVIN;
        let water = water_mole_fraction(temperature_c, humidity, STANDARD_PRESSURE_PA);
        let argon = 0.00934;
        let oxygen = 0.20946 - (co2 - ROOM_CO2);
        let nitrogen = 1.0 - argon - oxygen - co2;
        let dry = 1.0 - water;
        // share, molar mass g/mol, heat capacity at 25 °C J/(mol K), its slope per K
        let gases = [
            (nitrogen * dry, 28.0134, 29.124, 0.0008),
            (oxygen * dry, 31.9988, 29.376, 0.0045),
            (argon * dry, 39.948, 20.786, 0.0),
            (co2 * dry, 44.0095, 37.135, 0.0425),
            (water, 18.015_28, 33.59, 0.0085),
        ];
        let molar_mass: f64 = gases.iter().map(|g| g.0 * g.1).sum::<f64>() * 1e-3;
        let heat_capacity: f64 = gases.iter().map(|g| g.0 * (g.2 + g.3 * (temperature_c - 25.0))).sum();
        let heat_ratio = heat_capacity / (heat_capacity - GAS_CONSTANT);
        Air {
            density: STANDARD_PRESSURE_PA * molar_mass / (GAS_CONSTANT * kelvin),
            speed: (heat_ratio * GAS_CONSTANT * kelvin / molar_mass).sqrt(),
            heat_ratio,
            ..Air::keefe(temperature_c)
        }
    }

    /// Wave number ω/c in free air at `hz`, 1/m.
    #[must_use]
    pub fn wave_number(&self, hz: f64) -> f64 {
        std::f64::consts::TAU * hz / self.speed
    }
}

/// Cramer's speed of sound in m/s for real humid air: 0–30 °C, 75–102 kPa, water below 6 %, CO2
/// below 1 % (mole fractions).
///
/// Source: O. Cramer, J. Acoust. Soc. Am. 93 (1993) 2510–2516; coefficients read in two secondary
/// sources that agree. Stated uncertainty below 300 ppm. Checked in `tests/published/air.rs`.
#[must_use]
pub fn cramer_speed(temperature_c: f64, pressure_pa: f64, water: f64, co2: f64) -> f64 {
    let (t, p) = (temperature_c, pressure_pa);
    331.5024 + 0.603_055 * t - 0.000_528 * t * t
        + (51.471_935 + 0.149_587_4 * t - 0.000_782 * t * t) * water
        + (-1.82e-7 + 3.73e-8 * t - 2.93e-10 * t * t) * p
        + (-85.209_31 - 0.228_525 * t + 5.91e-5 * t * t) * co2
        - 2.835_149 * water * water
        - 2.15e-13 * p * p
        + 29.179_762 * co2 * co2
        + 0.000_486 * water * p * co2
}

/// Mole fraction of water vapour at relative humidity `humidity` (0…1).
///
/// Source: P. Giacomo, Metrologia 18 (1982) (the CIPM-81 density formula), as given with Cramer's
/// formula in a secondary source. Checked in `tests/published/air.rs`.
#[must_use]
pub fn water_mole_fraction(temperature_c: f64, humidity: f64, pressure_pa: f64) -> f64 {
    let enhancement = 1.000_62 + 3.14e-8 * pressure_pa + 5.6e-7 * temperature_c * temperature_c;
    humidity * enhancement * saturation_pressure_pa(temperature_c) / pressure_pa
}

/// Saturation pressure of water vapour in Pa (same source as [`water_mole_fraction`]).
#[must_use]
pub fn saturation_pressure_pa(temperature_c: f64) -> f64 {
    let kelvin = temperature_c + KELVIN;
    (1.237_884_7e-5 * kelvin * kelvin - 1.912_131_6e-2 * kelvin + 33.937_110_47 - 6343.1645 / kelvin).exp()
}

/// Temperature where breath enters, °C, and the length over which it cools, m (from memory, order
/// of magnitude only: no measured profile was readable).
const BREATH_ENTERS_C: f64 = 32.0;
const COOLING_LENGTH_M: f64 = 0.6;

/// The one temperature in °C that delays sound over `length_m` as the cooling breath does:
/// `T(x) = room + (32 − room) exp(−x / 0.6 m)`, mean over travel time.
#[must_use]
pub fn inside_temperature_c(room_c: f64, length_m: f64) -> f64 {
    const PIECES: usize = 200;
    let speed_ratio = |celsius: f64| ((celsius + KELVIN) / KELVIN).sqrt();
    let mean_slowness: f64 = (0..PIECES)
        .map(|i| {
            let at = length_m * (i as f64 + 0.5) / PIECES as f64;
            let celsius = room_c + (BREATH_ENTERS_C - room_c) * (-at / COOLING_LENGTH_M).exp();
            1.0 / speed_ratio(celsius)
        })
        .sum::<f64>()
        / PIECES as f64;
    KELVIN * mean_slowness.powi(-2) - KELVIN
}
