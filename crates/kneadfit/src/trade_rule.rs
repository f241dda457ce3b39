//! The trade's rule for the water's temperature, in both of its conventions, and its rule
//! for ice.
//!
//! ```text
//! n    temperatures count: room, flour, water and, where there is one, the preferment
//! FF   = n · T_dough − ΣT                    friction factor, of a test dough
//! T_w  = n · T_wanted − ΣT_known − FF        water, ΣT_known without the water
//!
//! rise = T_dough − ΣT / n                    the other convention
//! T_w  = (T_wanted − rise) · n − ΣT_known
//! ```
//!
//! Both are called "friction" on the page, and they differ by the factor n: `FF = n · rise`.
//! A number of one convention put into the formula of the other asks for water that is
//! (n − 1) times it too warm or too cold: for a rise of 8 K and three temperatures 16 K.
//! So each has a type here, [`FrictionFactor`] and [`Rise`], and the number n is one, too
//! ([`Counted`]): a factor that was taken with three temperatures is none for four.
//!
//! Both are *differences* of temperatures: °F become K by 5/9, without the 32. (In
//! `n · T − ΣT` the thirty-twos of n temperatures cancel.)
//!
//! The rule holds for one recipe, one charge, one mixer and its minutes. How far it is off
//! when one of these changes is told by [`crate::machine_factor`].
//!
//! Temperatures are in °C and differences in K. The functions are arithmetic: a number that
//! is not finite gives one that is not.
//!
//! # Examples
//!
//! A test dough came out at 26 °C with room 22, flour 20 and water 12 °C; the next is wanted
//! at 24 °C in a room of 26:
//!
//! ```
//! use kneadfit::trade_rule::{FrictionFactor, Known};
//!
//! let factor = FrictionFactor::of_dough(26.0, 12.0, &Known::new(22.0, 20.0));
//! assert_eq!(factor.k(), 24.0);
//! let today = Known::new(26.0, 20.0);
//! assert_eq!(factor.water_c(24.0, &today), 2.0);
//! // The same by the other convention.
//! assert_eq!(factor.rise(today.counted()).k(), 8.0);
//! assert_eq!(factor.rise(today.counted()).water_c(24.0, &today), 2.0);
//! ```
//!
//! # References
//!
//! US Navy, NAVEDTRA 14163, p. 8-4: `FF = n · T_dough − ΣT`, for one mixer and one weight of
//! dough. The worked examples of other sources are in the tests, each with its source.

use crate::units::{fahrenheit_from_kelvin_difference, kelvin_from_fahrenheit_difference};

/// Which temperatures the rule adds up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counted {
    /// Room, flour and water: n = 3.
    RoomFlourWater,
    /// Room, flour, water and preferment: n = 4.
    RoomFlourWaterPreferment,
}

impl Counted {
    /// How many they are: n of the formulas.
    pub const fn n(self) -> u8 {
        match self {
            Self::RoomFlourWater => 3,
            Self::RoomFlourWaterPreferment => 4,
        }
    }

    /// Their names, in the order in which they are written.
    pub const fn names(self) -> &'static [&'static str] {
        match self {
            Self::RoomFlourWater => &["room", "flour", "water"],
            Self::RoomFlourWaterPreferment => &["room", "flour", "water", "preferment"],
        }
    }

    fn times(self, value: f64) -> f64 {
        f64::from(self.n()) * value
    }
}

/// The temperatures that are known before the water's is chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// Room, °C.
    pub room_c: f64,
    /// Flour, °C.
    pub flour_c: f64,
    /// Preferment, °C; `None`: the dough has none, and n is 3.
    pub preferment_c: Option<f64>,
}

impl Known {
    /// Room and flour, °C, without a preferment.
    pub const fn new(room_c: f64, flour_c: f64) -> Self {
        Self { room_c, flour_c, preferment_c: None }
    }

    /// The same with a preferment at `preferment_c` °C.
    #[must_use]
    pub const fn with_preferment(self, preferment_c: f64) -> Self {
        Self { preferment_c: Some(preferment_c), ..self }
    }

    /// Which temperatures count, the water's among them.
    pub const fn counted(&self) -> Counted {
        match self.preferment_c {
            None => Counted::RoomFlourWater,
            Some(_) => Counted::RoomFlourWaterPreferment,
        }
    }

    /// ΣT_known: their sum in °C, without the water. The sum of several temperatures is no
    /// temperature: its °F are not those of a thermometer.
    pub fn sum_c(&self) -> f64 {
        self.room_c + self.flour_c + self.preferment_c.unwrap_or(0.0)
    }
}

/// A friction factor: the number that is subtracted **once** from n times the wanted
/// temperature. n times as large as the [`Rise`].
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct FrictionFactor(f64);

impl FrictionFactor {
    /// A friction factor of so many K (which are degrees Celsius of difference).
    pub const fn from_k(k: f64) -> Self {
        Self(k)
    }

    /// A friction factor of so many degrees Fahrenheit of difference: 5/9 K each, no 32.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::trade_rule::FrictionFactor;
    ///
    /// assert_eq!(FrictionFactor::from_fahrenheit(36.0).k(), 20.0);
    /// ```
    pub fn from_fahrenheit(difference_f: f64) -> Self {
        Self(kelvin_from_fahrenheit_difference(difference_f))
    }

    /// In K.
    pub const fn k(self) -> f64 {
        self.0
    }

    /// In degrees Fahrenheit of difference.
    pub fn fahrenheit(self) -> f64 {
        fahrenheit_from_kelvin_difference(self.0)
    }

    /// The friction factor of a test dough that came out at `dough_c`, made with water at
    /// `water_c`.
    ///
    /// ```text
    /// FF = n · T_dough − (ΣT_known + T_w)
    /// ```
    pub fn of_dough(dough_c: f64, water_c: f64, known: &Known) -> Self {
        Self(known.counted().times(dough_c) - (known.sum_c() + water_c))
    }

    /// The water's temperature in °C for a dough wanted at `wanted_c`. Below 0 °C it stands
    /// for ice: see [`ice_kg`].
    ///
    /// ```text
    /// T_w = n · T_wanted − ΣT_known − FF
    /// ```
    pub fn water_c(self, wanted_c: f64, known: &Known) -> f64 {
        self.base_temperature_c(wanted_c, known.counted()) - known.sum_c()
    }

    /// The dough's temperature in °C that the rule promises with water at `water_c`.
    ///
    /// ```text
    /// T_dough = (ΣT_known + T_w + FF) / n
    /// ```
    pub fn dough_c(self, water_c: f64, known: &Known) -> f64 {
        (known.sum_c() + water_c + self.0) / f64::from(known.counted().n())
    }

    /// The base temperature: what all n temperatures must add up to, °C. A sum: the number
    /// in °F is that of n temperatures in °F.
    ///
    /// ```text
    /// base = n · T_wanted − FF
    /// ```
    pub fn base_temperature_c(self, wanted_c: f64, counted: Counted) -> f64 {
        counted.times(wanted_c) - self.0
    }

    /// The same machine in the other convention: `rise = FF / n`.
    pub fn rise(self, counted: Counted) -> Rise {
        Rise(self.0 / f64::from(counted.n()))
    }
}

/// The rise of a dough over the mean of the temperatures that went in: the number that is
/// subtracted from the wanted temperature **itself**, before that is taken n times. n times
/// smaller than the [`FrictionFactor`].
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Rise(f64);

impl Rise {
    /// A rise of so many K.
    pub const fn from_k(k: f64) -> Self {
        Self(k)
    }

    /// A rise of so many degrees Fahrenheit of difference: 5/9 K each, no 32.
    pub fn from_fahrenheit(difference_f: f64) -> Self {
        Self(kelvin_from_fahrenheit_difference(difference_f))
    }

    /// In K.
    pub const fn k(self) -> f64 {
        self.0
    }

    /// In degrees Fahrenheit of difference.
    pub fn fahrenheit(self) -> f64 {
        fahrenheit_from_kelvin_difference(self.0)
    }

    /// The rise of a test dough that came out at `dough_c`, made with water at `water_c`.
    ///
    /// ```text
    /// rise = T_dough − (ΣT_known + T_w) / n
    /// ```
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::trade_rule::{Known, Rise};
    ///
    /// assert_eq!(Rise::of_dough(26.0, 12.0, &Known::new(22.0, 20.0)).k(), 8.0);
    /// ```
    pub fn of_dough(dough_c: f64, water_c: f64, known: &Known) -> Self {
        Self(dough_c - (known.sum_c() + water_c) / f64::from(known.counted().n()))
    }

    /// The water's temperature in °C for a dough wanted at `wanted_c`.
    ///
    /// ```text
    /// T_w = (T_wanted − rise) · n − ΣT_known
    /// ```
    pub fn water_c(self, wanted_c: f64, known: &Known) -> f64 {
        known.counted().times(wanted_c - self.0) - known.sum_c()
    }

    /// The dough's temperature in °C that the rule promises with water at `water_c`.
    ///
    /// ```text
    /// T_dough = (ΣT_known + T_w) / n + rise
    /// ```
    pub fn dough_c(self, water_c: f64, known: &Known) -> f64 {
        (known.sum_c() + water_c) / f64::from(known.counted().n()) + self.0
    }

    /// The same machine in the other convention: `FF = n · rise`.
    pub fn friction_factor(self, counted: Counted) -> FrictionFactor {
        FrictionFactor(counted.times(self.0))
    }
}

/// The water's temperature in °C that fills up a base temperature `base_c`, the sum of all
/// n temperatures: `T_w = base − ΣT_known`.
///
/// # Examples
///
/// ```
/// use kneadfit::trade_rule::{Known, water_of_base_c};
///
/// assert_eq!(water_of_base_c(56.0, &Known::new(22.0, 20.0)), 14.0);
/// ```
pub fn water_of_base_c(base_c: f64, known: &Known) -> f64 {
    base_c - known.sum_c()
}

/// L/c_w as the trade rounds it, K: melting ice at 0 °C cools as much as water colder by
/// this. 144 Btu/lb at 1 Btu/(lb·°F) are 144 °F, which are 80 K; the standard tables'
/// 333.55 kJ/kg and 4.185 kJ/(kg·K) make 79.7.
pub const MELTING_K: f64 = 80.0;

/// How much of the formula's water is weighed as ice, kg, so that ice and water at `tap_c`
/// do what all of it at `wanted_c` would do. The rest, `W − ice`, is tap water.
///
/// ```text
/// ice = W (T_tap − T_wanted) / (T_tap + L/c_w)       W kg of water in the formula
/// ```
///
/// `melting_k` is L/c_w: [`MELTING_K`] for ice at 0 °C. In °F the divisor is `T_tap + 112`
/// (144 less the 32 of the scale). A wanted temperature below 0 °C stands for the heat that
/// the ice takes out of the dough.
///
/// Nought where the tap is as cold as wanted, or colder. `None` where all of the water as
/// ice would not be cold enough, or a number is not finite.
///
/// # Examples
///
/// ```
/// use kneadfit::trade_rule::{MELTING_K, ice_kg};
///
/// let ice = ice_kg(6.5, 20.0, 4.0, MELTING_K).unwrap();
/// assert!((ice - 1.04).abs() < 1e-12);
/// assert_eq!(ice_kg(6.5, 4.0, 10.0, MELTING_K), Some(0.0));
/// assert_eq!(ice_kg(6.5, 20.0, -81.0, MELTING_K), None);
/// ```
pub fn ice_kg(formula_water_kg: f64, tap_c: f64, wanted_c: f64, melting_k: f64) -> Option<f64> {
    let finite = [formula_water_kg, tap_c, wanted_c, melting_k].iter().all(|v| v.is_finite());
    if !finite {
        return None;
    }
    if tap_c <= wanted_c {
        return Some(0.0);
    }
    let share = (tap_c - wanted_c) / (tap_c + melting_k);
    (0.0..=1.0).contains(&share).then_some(formula_water_kg * share)
}

/// The temperature in °C of the water that water and ice together are equal to. Below 0 °C
/// no such water is poured: it stands for the heat that the ice takes out of the dough.
///
/// ```text
/// T = (m_w T_w − m_ice · L/c_w) / (m_w + m_ice)
/// ```
///
/// `melting_k` is what the ice takes as K of water, [`MELTING_K`] for ice at 0 °C. Not a
/// number where there is neither water nor ice.
///
/// # Examples
///
/// The inverse of [`ice_kg`]:
///
/// ```
/// use kneadfit::trade_rule::{MELTING_K, ice_and_water_c, ice_kg};
///
/// let ice = ice_kg(6.5, 20.0, 4.0, MELTING_K).unwrap();
/// let equal_c = ice_and_water_c(6.5 - ice, 20.0, ice, MELTING_K);
/// assert!((equal_c - 4.0).abs() < 1e-12);
/// ```
pub fn ice_and_water_c(water_kg: f64, water_c: f64, ice_kg: f64, melting_k: f64) -> f64 {
    (water_kg * water_c - ice_kg * melting_k) / (water_kg + ice_kg)
}
