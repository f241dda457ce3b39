//! Thermal figures of handbooks and of the trade, through the real heat balance.

use std::sync::Arc;

use kneadfit::batch::Batch;
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::thermal::{HeatCoefficients, HeatModel, HeatTerms, Input, Uncertainties};
use kneadfit::units::{PhysicalConstants, celsius_from_fahrenheit};

/// Standard: 1 lb.
const KG_PER_LB: f64 = 0.453_592_37;
/// Standard: 1 Btu (International Table).
const KJ_PER_BTU: f64 = 1.055_055_852_62;

fn one_speed() -> [Arc<str>; 1] {
    ["low".into()]
}

/// A vessel that holds no heat and loses none.
fn adiabatic(model: &HeatModel) -> HeatCoefficients {
    HeatCoefficients {
        friction_w_per_kg: vec![0.0],
        exchange_w_per_k_kg23: 0.0,
        bowl_kj_per_k: 0.0,
        stiffness: 0.0,
        softening_per_k: 0.0,
        ..HeatCoefficients::typical(model, 1)
    }
}

fn dough_c(model: &HeatModel, c: &HeatCoefficients, charge: &Charge, phases: &[Phase]) -> f64 {
    let batch = Batch::new("check", charge.clone(), phases.to_vec());
    model.forecast_c(c, &batch, &one_speed()).unwrap()[0]
}

/// Where the dough of `charge(x)` stands at `wanted_c`, for a dough temperature that is
/// a straight line in `x`.
fn solved(wanted_c: f64, mut dough_c: impl FnMut(f64) -> f64) -> f64 {
    let (at_0, at_1) = (dough_c(0.0), dough_c(1.0));
    (wanted_c - at_0) / (at_1 - at_0)
}

/// Çengel & Boles, *Thermodynamics*, 8th ed., problem 5-157: 15 kJ/kg of hydration, 2 kg
/// of flour and 1 kg of water kept at 15 °C, specific heats 1.76 and 4.18.
///
/// The book's answer, from memory, is city water cooled to 4.2 °C, which takes the
/// 15 kJ for each kg of *dough*: (2 + 1) · 15 = 4.18 · 10.77. Here heat of wetting is per
/// kg of flour, and the same balance gives 15 − 2 · 15 / 4.18 = 7.8 °C by arithmetic.
#[test]
fn wetting_in_a_textbook() {
    let mut model = HeatModel::new(3.0);
    model.constants = PhysicalConstants {
        flour_kj_per_kg_k: 1.76,
        water_kj_per_kg_k: 4.18,
        ..PhysicalConstants::default()
    };
    let water_c = |wetting_kj_per_kg: f64| {
        let c = HeatCoefficients { wetting_kj_per_kg, ..adiabatic(&model) };
        solved(15.0, |water_c| {
            let charge = Charge::new(15.0).with(Material::Flour, 2.0, 15.0).with(
                Material::Water,
                1.0,
                water_c,
            );
            dough_c(&model, &c, &charge, &[])
        })
    };
    let per_kg_of_flour = water_c(15.0);
    assert!((per_kg_of_flour - 7.8).abs() < 0.05, "{per_kg_of_flour}");
    // Per kg of dough is 1.5 times as much per kg of this flour.
    let per_kg_of_dough = water_c(15.0 * 1.5);
    assert!((per_kg_of_dough - 4.2).abs() < 0.05, "{per_kg_of_dough}");
}

/// A mechanical dough development of 11 Wh/kg (several sources) is 39.6 kJ/kg: 14.4 °C
/// of adiabatic rise at 2.74 kJ/(kg·K), by arithmetic.
#[test]
fn a_mechanical_development_warms_by_fourteen_degrees() {
    let model = HeatModel::new(10.0);
    // Of flour and water, 2.74 kJ/(kg·K) is a dough of this hydration.
    let of = &model.constants;
    let hydration = (2.74 - of.flour_kj_per_kg_k) / (of.water_kj_per_kg_k - 2.74);
    let charge = Charge::new(20.0).with(Material::Flour, 10.0, 20.0).with(
        Material::Water,
        10.0 * hydration,
        20.0,
    );
    let at_rest = dough_c(&model, &adiabatic(&model), &charge, &[]);
    // 11 Wh/kg in 3 minutes: 220 W/kg.
    let c = HeatCoefficients { friction_w_per_kg: vec![220.0], ..adiabatic(&model) };
    let mixed = dough_c(&model, &c, &charge, &[Phase::mixing("low", 3.0)]);
    let rise_k = mixed - at_rest;
    assert!((rise_k * 2.74 - 39.6).abs() < 1e-9, "{rise_k}");
    assert!((rise_k - 14.4).abs() < 0.06, "{rise_k}");
}

/// Baking Business: 350 lb of ice, melted, take 50 400 Btu (144 Btu/lb). The standard
/// tables' 333.55 kJ/kg are 143.4 Btu/lb, 0.4 % less.
#[test]
fn melting_ice_takes_what_the_trade_says() {
    let ice_kg = 350.0 * KG_PER_LB;
    let model = HeatModel::new(1000.0);
    let charge = |material| {
        Charge::new(20.0).with(Material::Water, 1000.0, 60.0).with(material, ice_kg, 0.0)
    };
    let c = adiabatic(&model);
    let with_water = dough_c(&model, &c, &charge(Material::Water), &[]);
    let with_ice = dough_c(&model, &c, &charge(Material::Ice), &[]);
    let capacity_kj_per_k = (1000.0 + ice_kg) * model.constants.water_kj_per_kg_k;
    let melting_btu = (with_water - with_ice) * capacity_kj_per_k / KJ_PER_BTU;
    assert!((melting_btu / 50_400.0 - 1.0).abs() < 0.005, "{melting_btu}");
}

/// Geankoplis, *Transport Processes and Separation Process Principles*, 4th ed., table
/// A.4-1: white bread at 44–45 % water holds 2.72–2.85 kJ/(kg·K); flour at 12–13.5 %
/// moisture 1.80–1.88. Flour and water to that content come out up to 2 % under the
/// lower end; the heat capacity of a dough is not known better than that.
#[test]
fn a_dough_holds_what_bread_holds() {
    let model = HeatModel::new(10.0);
    for (moisture, water) in [(0.12, 0.44), (0.12, 0.45), (0.135, 0.44), (0.135, 0.45)] {
        let hydration = (water - moisture) / (1.0 - water);
        let charge = Charge::new(20.0).with(Material::Flour, 1.0, 20.0).with(
            Material::Water,
            hydration,
            20.0,
        );
        let batch = Batch::new("bread", charge, vec![]);
        let terms = HeatTerms::new(&model, &batch, &one_speed()).unwrap();
        let held = terms.capacity_kj_per_k / terms.mass_kg;
        assert!((2.72 * 0.98..=2.85).contains(&held), "{moisture} {water}: {held}");
    }
}

/// A distributor's printed ice table: lb of ice a lb of formula water, by tap and wanted
/// water temperature in °F. Wanted temperatures below freezing stand for the heat that
/// the mix must lose, so the ice is compared in a dough that has the heat to melt it,
/// beside the same dough with all its water at the wanted temperature.
///
/// With the trade's 144 Btu/lb the table holds to 0.005. The latent heat of the standard
/// tables is 0.4 % smaller; with it one row, 70 to 0 °F, is 0.0058 off what is printed.
#[test]
fn ice_in_the_formula_water() {
    // 1 Btu/(lb·°F) and 144 Btu/lb.
    let mut of_the_trade = HeatModel::new(100.0);
    of_the_trade.constants.water_kj_per_kg_k = 4.1868;
    of_the_trade.constants.ice_latent_kj_per_kg = 144.0 * KJ_PER_BTU / KG_PER_LB;
    let carrier = || {
        let warm = Material::Other { specific_heat_kj_per_kg_k: 4.0 };
        Charge::new(20.0).with(warm, 10.0, 60.0)
    };
    let mut worst = 0.0_f64;
    for (tap_f, wanted_f, printed) in [
        (80.0, 75.0, 0.026),
        (80.0, 40.0, 0.206),
        (60.0, 40.0, 0.115),
        (70.0, 0.0, 0.380),
        (80.0, -30.0, 0.573),
        (32.0, 0.0, 0.222),
    ] {
        let (tap_c, wanted_c) = (celsius_from_fahrenheit(tap_f), celsius_from_fahrenheit(wanted_f));
        let share = |model: &HeatModel| {
            let c = adiabatic(model);
            let all_water = carrier().with(Material::Water, 1.0, wanted_c);
            solved(dough_c(model, &c, &all_water, &[]), |ice| {
                let charge = carrier().with(Material::Water, 1.0 - ice, tap_c);
                dough_c(model, &c, &charge.with(Material::Ice, ice, 0.0), &[])
            })
        };
        let by_the_trade = share(&of_the_trade);
        assert!((by_the_trade - printed).abs() < 0.005, "{tap_f} {wanted_f}: {by_the_trade}");
        // The trade's formula, W (T_tap − T_want)/(T_tap + 112).
        let by_formula = (tap_f - wanted_f) / (tap_f + 112.0);
        assert!((by_the_trade - by_formula).abs() < 1e-4, "{by_the_trade} {by_formula}");
        let model = HeatModel::new(100.0);
        let ours = share(&model);
        worst = worst.max((ours - printed).abs());
        if wanted_f > 32.0 {
            // Ice and tap water alone come to the wanted temperature.
            let mixed = Charge::new(20.0).with(Material::Water, 1.0 - ours, tap_c).with(
                Material::Ice,
                ours,
                0.0,
            );
            assert!((dough_c(&model, &adiabatic(&model), &mixed, &[]) - wanted_c).abs() < 1e-9);
        }
    }
    assert!((0.0057..0.0059).contains(&worst), "{worst}");
}

/// The sizes of things for 10 kg of dough at 65 %, by arithmetic on the handbook's
/// constants; without the bowl for the upper, with a usual one for the lower ends.
#[test]
fn sizes_of_effects_in_ten_kilograms_of_dough() {
    let model = HeatModel::new(10.0);
    let flour_kg = 10.0 / 1.65;
    let plain = |water_kg: f64, water_c: f64| {
        Charge::new(20.0).with(Material::Flour, flour_kg, 20.0).with(
            Material::Water,
            water_kg,
            water_c,
        )
    };
    let charge = plain(10.0 - flour_kg, 20.0);
    let bare = adiabatic(&model);
    let with_bowl = HeatCoefficients { bowl_kj_per_k: 2.76, ..adiabatic(&model) };
    for c in [&bare, &with_bowl] {
        let batch = Batch::new("usual", charge.clone(), vec![]);
        let s = &model.sensitivity(c, &batch, &one_speed()).unwrap()[0];
        let by = |input| s.by_input.iter().find(|(i, _)| *i == input).unwrap().1;
        let (water, flour) = (by(Input::WaterC), by(Input::FlourC));
        assert!((0.5..=0.6).contains(&water), "{water}");
        assert!((0.35..=0.41).contains(&flour), "{flour}");
        // Thermometers of ±0.5 °C in water, flour and dough leave 0.6.
        let doubt = Uncertainties { flour_k: 0.5, water_k: 0.5, ..Uncertainties::default() };
        let in_water = water * doubt.of(Input::WaterC);
        let irreducible = in_water.hypot(flour * doubt.of(Input::FlourC)).hypot(0.5);
        assert!((irreducible - 0.6).abs() < 0.03, "{irreducible}");
    }
    let start = dough_c(&model, &bare, &charge, &[]);
    let dry = HeatCoefficients { wetting_kj_per_kg: 0.0, ..bare.clone() };
    let wetting = start - dough_c(&model, &dry, &charge, &[]);
    assert!((wetting - 3.3).abs() < 0.05, "{wetting}");
    // Steel holds 0.5 kJ/(kg·K), from memory.
    let steel = HeatCoefficients { bowl_kj_per_k: 5.0, ..bare.clone() };
    let off = |bowl_c| dough_c(&model, &steel, &charge.clone().in_bowl_at(bowl_c), &[]);
    let bowl = off(start + 10.0) - off(start);
    assert!((bowl - 1.5).abs() < 0.05, "{bowl}");
    let iced = plain(10.0 - flour_kg - 0.1, 20.0).with(Material::Ice, 0.1, 0.0);
    let ice = dough_c(&model, &bare, &iced, &[]) - start;
    assert!((ice + 1.5).abs() < 0.05, "{ice}");
    let open = HeatCoefficients { exchange_w_per_k_kg23: 0.75, ..bare.clone() };
    let mut cool = charge.clone();
    cool.room_c = start - 4.0;
    cool.bowl_c = Some(start);
    let exchange = dough_c(&model, &open, &cool, &[Phase::rest(10.0)]) - start;
    assert!((exchange + 0.3).abs() < 0.02, "{exchange}");
}
