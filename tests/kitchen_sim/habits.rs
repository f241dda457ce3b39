//! The errors of measuring are as large as the fit assumes, and draws repeat.

use kneadfit::charge::{Charge, Material};

use crate::support::kitchen::{Kitchen, StagePlan, date_of};
use crate::support::machines::MachineKind;
use crate::support::rng::{Draws, round_to};
use kneadfit::charge::Phase;

fn temperature_of(charge: &Charge, material: Material) -> f64 {
    charge.ingredients.iter().find(|i| i.material == material).map_or(f64::NAN, |i| i.temperature_c)
}

/// Defaults of the fit: flour 0.5, water 0.3, room 0.7, dough 0.3 °C.
#[test]
fn thermometers_err_as_the_fit_assumes() {
    let (mut flour, mut water, mut room, mut dough, mut n) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for seed in 0..300 {
        let mut draws = Draws::seeded(seed);
        let kitchen = Kitchen::draw(&mut draws, MachineKind::Spiral);
        for _ in 0..5 {
            let intended = kitchen.intend(&mut draws, 100.0);
            let setup = kitchen.set_up(&mut draws, &intended, 100.0);
            let plan = [StagePlan::read(vec![Phase::mixing("low", 3.0)])];
            let mixed = kitchen.mix(&mut draws, &setup, "1", &plan);
            let error = |material| {
                temperature_of(&setup.noted, material)
                    - temperature_of(&setup.truth.charge, material)
            };
            flour += error(Material::Flour).powi(2);
            water += error(Material::Water).powi(2);
            room += (setup.noted.room_c - setup.truth.charge.room_c).powi(2);
            let read = mixed.observed_dough_c().expect("it is read");
            dough += (read - mixed.at_end().dough_c).powi(2);
            n += 1.0;
        }
    }
    let sd = |sum: f64| (sum / n).sqrt();
    assert!((0.42..0.55).contains(&sd(flour)), "flour {}", sd(flour));
    assert!((0.24..0.35).contains(&sd(water)), "water {}", sd(water));
    assert!((0.55..0.75).contains(&sd(room)), "room {}", sd(room));
    assert!((0.25..0.35).contains(&sd(dough)), "dough {}", sd(dough));
}

#[test]
fn one_seed_gives_one_log() {
    let log = || {
        let mut draws = Draws::seeded(7);
        let kitchen = Kitchen::draw(&mut draws, MachineKind::Planetary);
        kitchen.log(&mut draws, 30)
    };
    assert_eq!(log(), log());
}

/// A year's log has what bakers' logs have.
#[test]
fn logs_have_ice_preferments_and_readings_on_the_way() {
    let (mut ice, mut preferment, mut twice, mut bowl, mut ungraded) = (0, 0, 0, 0, 0);
    let mut batches = 0;
    for kind in MachineKind::ALL {
        for seed in 0..20 {
            let mut draws = Draws::seeded(seed);
            let kitchen = Kitchen::draw(&mut draws, kind);
            let log = kitchen.log(&mut draws, 30);
            assert!(log.batches.is_sorted_by_key(|b| b.date.clone()));
            for batch in &log.batches {
                let c = &batch.charge;
                let hydration = c.hydration().expect("dough has flour");
                assert!((0.5..0.85).contains(&hydration), "{hydration}");
                batches += 1;
                ice += usize::from(c.mass_of_kg(|m| *m == Material::Ice) > 0.0);
                preferment +=
                    usize::from(c.mass_of_kg(|m| matches!(m, Material::Preferment { .. })) > 0.0);
                twice += usize::from(batch.stages.len() > 1);
                bowl += usize::from(c.bowl_c.is_some());
                ungraded +=
                    usize::from(batch.stages.iter().all(|s| s.reading.development.is_none()));
            }
        }
    }
    for (what, count) in [
        ("ice", ice),
        ("preferment", preferment),
        ("two readings", twice),
        ("bowl", bowl),
        ("no grade", ungraded),
    ] {
        assert!(count * 50 > batches && count * 2 < batches, "{what}: {count} of {batches}");
    }
}

/// Pouring as planned keeps the formula water and changes only its temperature and state.
#[test]
fn pouring_keeps_the_formula_water() {
    let mut draws = Draws::seeded(3);
    let kitchen = Kitchen::draw(&mut draws, MachineKind::Spiral);
    let intended = kitchen.intend(&mut draws, 200.0);
    let setup = kitchen.set_up(&mut draws, &intended, 200.0);
    let poured = kitchen.pour(&mut draws, &setup, 5.0, 1.0, -5.0);
    assert!((poured.noted.water_kg() - setup.noted.water_kg()).abs() < 1e-9);
    assert_eq!(poured.noted.mass_of_kg(|m| *m == Material::Ice), 1.0);
    assert_eq!(temperature_of(&poured.noted, Material::Water), 5.0);
    assert!((temperature_of(&poured.truth.charge, Material::Water) - 5.0).abs() < 1.5);
}

#[test]
fn days_are_dates_of_one_year() {
    assert_eq!(&*date_of(0.0), "2025-01-01");
    assert_eq!(&*date_of(59.9), "2025-03-01");
    assert_eq!(&*date_of(364.9), "2025-12-31");
}

#[test]
fn rounding_prints_short() {
    assert_eq!(round_to(21.449, 0.1), 21.4);
    assert_eq!(round_to(0.123_456, 0.05), 0.1);
    assert_eq!(round_to(7.3, 0.5), 7.5);
    assert_eq!(round_to(17.0, 5.0), 15.0);
    assert_eq!(round_to(1.234_5, 0.0), 1.234_5);
}

/// Moments of the distributions, on 20 000 draws.
#[test]
fn draws_have_their_moments() {
    let mut draws = Draws::seeded(1);
    let mut moments = |draw: &mut dyn FnMut(&mut Draws) -> f64| {
        let n = 20_000;
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..n {
            let x = draw(&mut draws);
            sum += x;
            squares += x * x;
        }
        let mean = sum / f64::from(n);
        (mean, (squares / f64::from(n) - mean * mean).sqrt())
    };
    let near = |(mean, sd): (f64, f64), (expected_mean, expected_sd): (f64, f64)| {
        assert!((mean - expected_mean).abs() < 0.04 * expected_sd, "{mean} {expected_mean}");
        assert!((sd / expected_sd - 1.0).abs() < 0.03, "{sd} {expected_sd}");
    };
    near(moments(&mut |d| d.normal(2.0, 3.0)), (2.0, 3.0));
    near(moments(&mut |d| d.uniform(1.0, 3.0)), (2.0, 2.0 / 12.0_f64.sqrt()));
    // Triangular: variance (a² + b² + c² − ab − ac − bc) / 18.
    near(moments(&mut |d| d.triangular(0.0, 1.0, 4.0)), (5.0 / 3.0, (13.0 / 18.0_f64).sqrt()));
    near(moments(&mut |d| libm::log(d.lognormal(2.0, 0.4))), (2.0_f64.ln(), 0.4));
}
