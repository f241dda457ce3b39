//! The trade's rule against worked examples that others printed, and its own properties.
//!
//! In °F the examples are converted temperature by temperature, factors as differences.

use kneadfit::trade_rule::{
    Counted, FrictionFactor, Known, MELTING_K, Rise, ice_and_water_c, ice_kg, water_of_base_c,
};
use kneadfit::units::{PhysicalConstants, celsius_from_fahrenheit, fahrenheit_from_celsius};
use proptest::prelude::*;

fn close(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-9, "{found}, expected {expected}");
}

/// Room and flour in °F.
fn known_f(room_f: f64, flour_f: f64) -> Known {
    Known::new(celsius_from_fahrenheit(room_f), celsius_from_fahrenheit(flour_f))
}

/// The water in °F by a factor in °F that is subtracted once.
fn water_f(factor_f: f64, wanted_f: f64, known: &Known) -> f64 {
    let factor = FrictionFactor::from_fahrenheit(factor_f);
    fahrenheit_from_celsius(factor.water_c(celsius_from_fahrenheit(wanted_f), known))
}

/// Pizza Today, June 2018: wanted 80, flour 65, room 75, friction factor 35 °F.
#[test]
fn pizza_today() {
    close(water_f(35.0, 80.0, &known_f(75.0, 65.0)), 65.0);
}

/// San Francisco Baking Institute, class notes quoted at farine-mc: wanted 75, flour 65,
/// room 65, friction factor 8 °F.
#[test]
fn san_francisco_baking_institute() {
    close(water_f(8.0, 75.0, &known_f(65.0, 65.0)), 87.0);
}

/// Cook's Illustrated: wanted 75; room, flour and starter 71; friction factor 20 °F.
#[test]
fn cooks_illustrated() {
    let known = known_f(71.0, 71.0).with_preferment(celsius_from_fahrenheit(71.0));
    assert_eq!(known.counted(), Counted::RoomFlourWaterPreferment);
    close(water_f(20.0, 75.0, &known), 67.0);
}

/// Treatise on Baking (public domain): wanted 78 °F and no friction; shop 85, flour 67, and
/// shop 72, flour 62 °F.
#[test]
fn treatise_on_baking() {
    close(water_f(0.0, 78.0, &known_f(85.0, 67.0)), 82.0);
    close(water_f(0.0, 78.0, &known_f(72.0, 62.0)), 100.0);
}

/// baeckerlatein.de, Teigtemperatur: wanted 26, rise 5, room and flour 22, preferment 6 °C.
#[test]
fn baeckerlatein() {
    let known = Known::new(22.0, 22.0).with_preferment(6.0);
    close(Rise::from_k(5.0).water_c(26.0, &known), 34.0);
}

/// A German baking site: wanted 26, rise 3, room and flour 22 °C, without a preferment and
/// with one of 6 °C.
#[test]
fn rise_with_and_without_a_preferment() {
    let known = Known::new(22.0, 22.0);
    close(Rise::from_k(3.0).water_c(26.0, &known), 25.0);
    close(Rise::from_k(3.0).water_c(26.0, &known.with_preferment(6.0)), 42.0);
}

/// onlinepastrytrainingschool.com: wanted 24, room 18, flour 18 °C and 8 °C that it calls the
/// rise of the dough, and yet subtracts once: 28 °C. One of the two is wrong there. As a
/// friction factor the 8 °C give 28, and the dough rises by 8/3 = 2.7 only; a rise of 8 wants
/// water of 12 °C. The two are (n − 1) · 8 = 16 °C apart.
#[test]
fn a_rise_that_is_subtracted_once_is_a_friction_factor() {
    let known = Known::new(18.0, 18.0);
    let (factor, rise) = (FrictionFactor::from_k(8.0), Rise::from_k(8.0));
    close(factor.water_c(24.0, &known), 28.0);
    close(rise.water_c(24.0, &known), 12.0);
    close(factor.rise(known.counted()).k(), 8.0 / 3.0);
    // What is printed holds together for a factor alone: the mean of 18, 18 and 28 is 21.3,
    // and a dough that rises by 8 from there comes to 29.3, not to 24.
    close(factor.dough_c(28.0, &known), 24.0);
    close(rise.dough_c(28.0, &known), 64.0 / 3.0 + 8.0);
    close(rise.dough_c(12.0, &known), 24.0);
}

/// mesubim.com: a test dough of 27 °C out of 25, 15 and 15 °C: 26 °C, which is a rise of 8.7.
#[test]
fn mesubim() {
    let known = Known::new(25.0, 15.0);
    let factor = FrictionFactor::of_dough(27.0, 15.0, &known);
    close(factor.k(), 26.0);
    close(Rise::of_dough(27.0, 15.0, &known).k(), 26.0 / 3.0);
    assert_eq!(format!("{:.1}", factor.rise(known.counted()).k()), "8.7");
}

/// Dufour 1937, quoted at boulangerienet.fr: base temperature 60, flour 5, room 6 °C.
#[test]
fn dufour() {
    close(water_of_base_c(60.0, &Known::new(6.0, 5.0)), 49.0);
    // The base is n times the wanted temperature less the factor: 60 for 24 °C and 12 °C.
    let factor = FrictionFactor::from_k(12.0);
    close(factor.base_temperature_c(24.0, Counted::RoomFlourWater), 60.0);
    close(factor.water_c(24.0, &Known::new(6.0, 5.0)), 49.0);
}

/// US Navy, NAVEDTRA 14163, p. 8-4, the procedure: n times the test dough less the sum of
/// the n temperatures. The numbers here are our own.
#[test]
fn navy_procedure() {
    for n in [Counted::RoomFlourWater, Counted::RoomFlourWaterPreferment] {
        assert_eq!(usize::from(n.n()), n.names().len());
    }
    let known = known_f(72.0, 70.0);
    let of = |known: &Known| {
        let [dough_c, water_c] = [80.0, 60.0].map(celsius_from_fahrenheit);
        FrictionFactor::of_dough(dough_c, water_c, known).fahrenheit()
    };
    close(of(&known), 3.0 * 80.0 - (72.0 + 70.0 + 60.0));
    let known = known.with_preferment(celsius_from_fahrenheit(75.0));
    close(of(&known), 4.0 * 80.0 - (72.0 + 70.0 + 60.0 + 75.0));
}

/// A distributor's printed ice table: lb of ice a lb of formula water, by tap and wanted
/// temperature in °F.
const ICE_TABLE: [(f64, f64, f64); 6] = [
    (80.0, 75.0, 0.026),
    (80.0, 40.0, 0.206),
    (60.0, 40.0, 0.115),
    (70.0, 0.0, 0.380),
    (80.0, -30.0, 0.573),
    (32.0, 0.0, 0.222),
];

#[test]
fn a_distributors_ice_table() {
    for (tap_f, wanted_f, printed) in ICE_TABLE {
        let [tap_c, wanted_c] = [tap_f, wanted_f].map(celsius_from_fahrenheit);
        let share = ice_kg(1.0, tap_c, wanted_c, MELTING_K).unwrap();
        assert!((share - printed).abs() < 0.005, "{tap_f} {wanted_f}: {share}");
        // The same in °F, where the 112 are 144 less 32.
        close(share, (tap_f - wanted_f) / (tap_f + 112.0));
        close(ice_kg(6.5, tap_c, wanted_c, MELTING_K).unwrap(), 6.5 * share);
        close(ice_and_water_c(1.0 - share, tap_c, share, MELTING_K), wanted_c);
    }
}

/// 144 Btu/lb at 1 Btu/(lb·°F) are 80 K; standard tables (333.55 kJ/kg) and Geankoplis,
/// table A.4-1 (4.185 kJ/(kg·K)) make 79.7.
#[test]
fn melting_ice_is_water_colder_by_eighty() {
    close(MELTING_K, 144.0 * 5.0 / 9.0);
    let c = PhysicalConstants::default();
    assert!((c.ice_latent_kj_per_kg / c.water_kj_per_kg_k - 79.7).abs() < 0.01);
}

#[test]
fn ice_that_is_not_needed_or_not_enough() {
    assert_eq!(ice_kg(5.0, 10.0, 10.0, MELTING_K), Some(0.0));
    assert_eq!(ice_kg(5.0, 10.0, 12.0, MELTING_K), Some(0.0));
    assert_eq!(ice_kg(5.0, 10.0, -80.0, MELTING_K), Some(5.0));
    assert_eq!(ice_kg(5.0, 10.0, -80.1, MELTING_K), None);
    assert_eq!(ice_kg(5.0, -90.0, -95.0, MELTING_K), None);
    for bad in [f64::NAN, f64::INFINITY] {
        assert_eq!(ice_kg(bad, 10.0, 4.0, MELTING_K), None);
        assert_eq!(ice_kg(5.0, bad, 4.0, MELTING_K), None);
        assert_eq!(ice_kg(5.0, 10.0, bad, MELTING_K), None);
        assert_eq!(ice_kg(5.0, 10.0, 4.0, bad), None);
    }
}

fn known() -> impl Strategy<Value = Known> {
    (-20.0..60.0_f64, -20.0..60.0_f64, prop::option::of(-5.0..50.0_f64))
        .prop_map(|(room_c, flour_c, preferment_c)| Known { room_c, flour_c, preferment_c })
}

proptest! {
    /// Water by the rule, and the dough that it promises with that water; a test dough's
    /// factor, and the dough that it promises for the test.
    #[test]
    fn there_and_back(
        known in known(), wanted_c in 0.0..50.0_f64, water_c in -80.0..90.0_f64,
        k in -20.0..120.0_f64,
    ) {
        let (factor, rise) = (FrictionFactor::from_k(k), Rise::from_k(k));
        prop_assert!((factor.dough_c(factor.water_c(wanted_c, &known), &known) - wanted_c).abs() < 1e-9);
        prop_assert!((rise.dough_c(rise.water_c(wanted_c, &known), &known) - wanted_c).abs() < 1e-9);
        let test = FrictionFactor::of_dough(wanted_c, water_c, &known);
        prop_assert!((test.water_c(wanted_c, &known) - water_c).abs() < 1e-9);
        let test = Rise::of_dough(wanted_c, water_c, &known);
        prop_assert!((test.water_c(wanted_c, &known) - water_c).abs() < 1e-9);
    }

    /// The two conventions are one rule, and mixing them up costs (n − 1) times the number.
    #[test]
    fn both_conventions_agree(
        known in known(), wanted_c in 0.0..50.0_f64, water_c in -80.0..90.0_f64,
        k in -20.0..120.0_f64,
    ) {
        let n = f64::from(known.counted().n());
        let rise = Rise::from_k(k);
        let factor = rise.friction_factor(known.counted());
        prop_assert!((factor.k() - n * k).abs() < 1e-9);
        prop_assert!((factor.rise(known.counted()).k() - k).abs() < 1e-9);
        prop_assert!((factor.water_c(wanted_c, &known) - rise.water_c(wanted_c, &known)).abs() < 1e-9);
        prop_assert!((factor.dough_c(water_c, &known) - rise.dough_c(water_c, &known)).abs() < 1e-9);
        let tested = FrictionFactor::of_dough(wanted_c, water_c, &known).rise(known.counted());
        prop_assert!((tested.k() - Rise::of_dough(wanted_c, water_c, &known).k()).abs() < 1e-9);
        let mixed_up = FrictionFactor::from_k(k);
        let miss_k = mixed_up.water_c(wanted_c, &known) - rise.water_c(wanted_c, &known);
        prop_assert!((miss_k - (n - 1.0) * k).abs() < 1e-9);
    }

    /// The rule in °F is the rule in °C, number by number, with factors as differences.
    #[test]
    fn fahrenheit_is_the_same_rule(
        known in known(), wanted_c in 0.0..50.0_f64, k in -20.0..120.0_f64,
    ) {
        let f = fahrenheit_from_celsius;
        let sum_f = f(known.room_c) + f(known.flour_c) + known.preferment_c.map_or(0.0, f);
        let n = f64::from(known.counted().n());
        let factor = FrictionFactor::from_k(k);
        let by_hand_f = n * f(wanted_c) - sum_f - factor.fahrenheit();
        prop_assert!((f(factor.water_c(wanted_c, &known)) - by_hand_f).abs() < 1e-9);
        let rise = Rise::from_k(k);
        let by_hand_f = (f(wanted_c) - rise.fahrenheit()) * n - sum_f;
        prop_assert!((f(rise.water_c(wanted_c, &known)) - by_hand_f).abs() < 1e-9);
        prop_assert!((Rise::from_fahrenheit(rise.fahrenheit()).k() - k).abs() < 1e-12 * (1.0 + k.abs()));
    }

    /// Ice and the rest of the water are as cold as what was wanted.
    #[test]
    fn ice_there_and_back(
        formula_kg in 0.1..500.0_f64, tap_c in 0.0..40.0_f64, colder in 0.0..1.0_f64,
        melting_k in 79.0..95.0_f64,
    ) {
        let wanted_c = tap_c - colder * (tap_c + melting_k);
        let ice = ice_kg(formula_kg, tap_c, wanted_c, melting_k).unwrap();
        prop_assert!((0.0..=formula_kg).contains(&ice));
        let equal_c = ice_and_water_c(formula_kg - ice, tap_c, ice, melting_k);
        prop_assert!((equal_c - wanted_c).abs() < 1e-9, "{equal_c} {wanted_c}");
    }
}
