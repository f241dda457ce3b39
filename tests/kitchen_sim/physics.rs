//! Simple limits of the richer process that have a closed form.

use kneadfit::charge::{Charge, Material, Phase};

use crate::support::machines::{Machine, MachineKind};
use crate::support::process::{TrueReading, Truth, mix};

/// A spiral that neither loses heat nor softens, and whose bowl takes no part.
fn insulated() -> Machine {
    Machine {
        dough_bowl_w_per_k: 0.0,
        dough_room_w_per_k: 0.0,
        bowl_room_w_per_k: 0.0,
        evaporation_w_per_kpa: 0.0,
        tool_share: 0.0,
        softening_per_k: 0.0,
        stiffness_exponent: 0.0,
        pickup_share: 0.0,
        ..Machine::typical(MachineKind::Spiral)
    }
}

fn end(machine: &Machine, truth: &Truth, phases: Vec<Phase>) -> TrueReading {
    mix(machine, truth, &[phases])[0]
}

/// All friction stays in the dough: rise = power · time / heat capacity.
#[test]
fn friction_heat_is_conserved() {
    let machine = insulated();
    let charge = Charge::new(20.0).with(Material::Water, machine.usual_dough_kg, 15.0);
    let dough = end(&machine, &Truth::plain(charge), vec![Phase::mixing("high", 7.3)]).dough_c;
    let rise_k = 0.06 * machine.speeds[1].friction_w_per_kg * 7.3 / 4.185;
    assert!((dough - 15.0 - rise_k).abs() < 1e-9, "{dough}");
}

/// Water left to itself approaches the room as `e^(−kt)`.
#[test]
fn rest_cools_exponentially() {
    let machine = Machine { dough_room_w_per_k: 3.0, ..insulated() };
    let charge = Charge::new(20.0).with(Material::Water, 8.0, 60.0);
    let dough = end(&machine, &Truth::plain(charge), vec![Phase::rest(45.0)]).dough_c;
    // 8 kg: 8^(2/3) = 4.
    let per_min = 0.06 * 3.0 * 4.0 / (8.0 * 4.185);
    let expected = 20.0 + 40.0 * (-per_min * 45.0_f64).exp();
    assert!((dough - expected).abs() < 1e-8, "{dough} {expected}");
}

/// Dough and bowl share their heat and keep it.
#[test]
fn dough_and_bowl_come_to_one_temperature() {
    let machine = Machine { dough_bowl_w_per_k: 6.0, ..insulated() };
    let charge = Charge::new(20.0).with(Material::Water, 10.0, 10.0).in_bowl_at(40.0);
    let reading = end(&machine, &Truth::plain(charge), vec![Phase::rest(600.0)]);
    let (dough, bowl) = (10.0 * 4.185, machine.bowl_kj_per_k);
    let expected = (dough * 10.0 + bowl * 40.0) / (dough + bowl);
    assert!((reading.dough_c - expected).abs() < 1e-6, "{reading:?} {expected}");
    assert!((reading.bowl_c - expected).abs() < 1e-6, "{reading:?} {expected}");
}

/// Ice takes its latent heat and its own warming, whatever the path.
#[test]
fn ice_takes_its_heat() {
    let charge = Charge::new(20.0).with(Material::Water, 5.0, 30.0).with(Material::Ice, 0.5, -10.0);
    let reading = end(&insulated(), &Truth::plain(charge), vec![Phase::rest(200.0)]);
    let heat = 5.0 * 4.185 * 30.0 - 0.5 * (333.55 + 1.958 * 10.0);
    assert!(reading.ice_left_kg < 1e-9, "{reading:?}");
    assert!((reading.dough_c - heat / (5.5 * 4.185)).abs() < 1e-4, "{reading:?}");
}

/// Çengel & Boles, *Thermodynamics*, 8th ed., problem 5-157, with the 15 kJ/kg taken
/// per kg of flour: 2 kg of flour and 1 kg of water stay at 15 °C when the water goes
/// in at 15 − 2 · 15 / 4.18 = 7.8 °C.
#[test]
fn wetting_heat_is_met_by_the_cooled_water_of_the_textbook() {
    let water = Material::Other { specific_heat_kj_per_kg_k: 4.18 };
    let charge =
        Charge::new(15.0).with(Material::Flour, 2.0, 15.0).with(water, 1.0, 15.0 - 30.0 / 4.18);
    let truth = Truth { flour_kj_per_kg_k: 1.76, wetting_kj_per_kg: 15.0, ..Truth::plain(charge) };
    let dough = end(&insulated(), &truth, vec![Phase::rest(20.0)]).dough_c;
    assert!((dough - 15.0).abs() < 1e-5, "{dough}");
    assert!((15.0 - 30.0 / 4.18_f64 - 7.8).abs() < 0.05);
}

/// Salt and sugar take the heat of their solution.
#[test]
fn solution_cools() {
    let charge = |salt: f64| {
        Charge::new(20.0).with(Material::Water, 5.0, 20.0).with(Material::Salt, salt, 20.0)
    };
    let dough = end(&insulated(), &Truth::plain(charge(0.2)), vec![Phase::rest(20.0)]).dough_c;
    let expected = 20.0 - 0.2 * 66.0 / (5.0 * 4.185 + 0.2 * 0.88);
    assert!((dough - expected).abs() < 1e-6, "{dough} {expected}");
}

/// Halving what is between two readings changes nothing: no step is lost at a stage's end.
#[test]
fn a_reading_on_the_way_leaves_the_end_as_it_is() {
    let machine = Machine::typical(MachineKind::Planetary);
    let charge =
        Charge::new(24.0).with(Material::Flour, 1.0, 20.0).with(Material::Water, 0.65, 8.0);
    let truth = Truth::plain(charge);
    let whole = end(&machine, &truth, vec![Phase::mixing("medium", 8.0)]);
    let halves = mix(&machine, &truth, &[4.0, 4.0].map(|min| vec![Phase::mixing("medium", min)]));
    assert!((whole.dough_c - halves[1].dough_c).abs() < 1e-9);
    assert!(halves[0].dough_c < halves[1].dough_c);
}
