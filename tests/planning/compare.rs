//! Comparisons held against the model integrated a second time, against draws from the
//! profile's covariance, and against what forecasts say of the same dough.

use std::sync::Arc;

use kneadfit::batch::{Batch, Reading, Stage};
use kneadfit::charge::{Charge, Material, Phase};
use kneadfit::planning::{Comparison, Draft, MinutesBounds, Short, Wanted};
use kneadfit::profile::Profile;
use kneadfit::units::PhysicalConstants;

use crate::properties::{planner, profile};
use crate::support::exact::{ModelMachine, ModelSpeed};
use crate::support::rng::Draws;

const FLOUR_KG: f64 = 6.0;
const WATER_KG: f64 = 4.2;
const SALT_KG: f64 = 0.12;

fn charge(room_c: f64) -> Charge {
    Charge::new(room_c).with(Material::Flour, FLOUR_KG, 19.0).with(Material::Salt, SALT_KG, room_c)
}

/// A dough with water of 11 °C, its minutes open at every speed.
fn draft(room_c: f64) -> Draft {
    let draft = Draft::new("any", charge(room_c), WATER_KG).with_water_at(11.0);
    let speeds = planner().forecaster().speeds();
    speeds.iter().fold(draft, |draft, speed| draft.as_needed(speed.clone()))
}

fn compared(wanted: &Wanted) -> Comparison {
    planner().compare(&draft(28.0), wanted).unwrap()
}

fn value(profile: &Profile, name: &str) -> f64 {
    profile.coefficients.iter().find(|c| c.name == name).unwrap().value
}

/// The machine of a profile, in the model that is written a second time.
fn second(profile: &Profile) -> ModelMachine {
    let speeds = profile.machine.speeds.iter().map(|name| ModelSpeed {
        name: name.as_str().into(),
        friction_w_per_kg: value(profile, &format!("friction_{name}")),
        development_per_min: value(profile, &format!("development_{name}")),
    });
    let reference = profile.model.reference;
    ModelMachine {
        speeds: speeds.collect(),
        exchange_w_per_k: value(profile, "exchange"),
        bowl_kj_per_k: value(profile, "bowl"),
        wetting_kj_per_kg: value(profile, "wetting"),
        charge_exponent: value(profile, "charge_exponent"),
        stiffness: value(profile, "stiffness"),
        softening_per_k: value(profile, "softening"),
        rest_per_min: value(profile, "development_at_rest"),
        q10: value(profile, "q10"),
        flours: Vec::new(),
        reference_dough_kg: reference.usual_charge_kg,
        reference_hydration: reference.reference_hydration,
        reference_c: reference.reference_c,
        scatter_k: 0.0,
    }
}

/// What friction gives, from the path of the dough by Runge–Kutta and Simpson's rule over
/// the power written by hand; no closed form of the core has a part in it. What the room
/// gives by the same rule makes up the rest of the warmth.
#[test]
fn friction_and_room_share_the_warmth() {
    let compared = compared(&Wanted::default());
    let machine = second(profile());
    let c = PhysicalConstants::default();
    let capacity = FLOUR_KG * c.flour_kj_per_kg_k
        + WATER_KG * c.water_kj_per_kg_k
        + SALT_KG * c.salt_kj_per_kg_k
        + machine.bowl_kj_per_k;
    let mass_kg = FLOUR_KG + WATER_KG + SALT_KG;
    let stiff = (-machine.stiffness * (WATER_KG / FLOUR_KG - machine.reference_hydration)).exp();
    let charge = (mass_kg / machine.reference_dough_kg).powf(machine.charge_exponent);
    const STEPS: usize = 60;
    let batch = &compared.kneaded.batch;
    let phases: Vec<&Phase> = batch.phases().filter(|p| p.minutes > 0.0).collect();
    let unread = |phases| Stage { phases, reading: Reading::default() };
    let mut stages = vec![unread(Vec::new())];
    for phase in &phases {
        let minutes = phase.minutes / STEPS as f64;
        let step = || Phase { speed: phase.speed.clone(), minutes };
        stages.extend((0..STEPS).map(|_| unread(vec![step()])));
    }
    let path = machine.forecast(&Batch { stages, ..batch.clone() });
    let (mut friction_k, mut room_k) = (0.0, 0.0);
    for (index, phase) in phases.iter().enumerate() {
        let speed = machine.speeds.iter().find(|s| s.name == phase.speed).unwrap();
        for i in 0..=STEPS {
            let weight = match i {
                0 | STEPS => 1.0,
                i if i % 2 == 1 => 4.0,
                _ => 2.0,
            } * phase.minutes
                / STEPS as f64
                / 3.0;
            let dough_c = path[index * STEPS + i].0;
            let soft = 1.0 - machine.softening_per_k * (dough_c - machine.reference_c);
            let friction_w = speed.friction_w_per_kg * mass_kg * charge * stiff * soft;
            let room_w = machine.exchange_w_per_k * mass_kg.powf(2.0 / 3.0) * (28.0 - dough_c);
            friction_k += weight * 0.06 * friction_w / capacity;
            room_k += weight * 0.06 * room_w / capacity;
        }
    }
    assert!((compared.friction_k - friction_k).abs() < 1e-7, "{compared:?} {friction_k}");
    assert!((compared.room_k() - room_k).abs() < 1e-7, "{} {room_k}", compared.room_k());
    assert!(room_k > 0.05, "a room that gives nothing shows nothing: {room_k}");
    let warmth_k = path[path.len() - 1].0 - path[0].0;
    assert!((compared.warmth_k() - warmth_k).abs() < 1e-7);
}

/// Heat per full development by its meaning: a dough of 24 °C in a room of 24 °C is mixed for
/// a moment in the model written a second time; its warming over its dose.
#[test]
fn heat_per_full_development_is_of_this_dough() {
    let compared = compared(&Wanted::default());
    let machine = second(profile());
    assert_eq!(compared.development_heat.len(), machine.speeds.len());
    let mixed = |water_c: f64, speed: &Arc<str>, minutes: f64| {
        let charge = charge(24.0).with(Material::Water, WATER_KG, water_c);
        machine.forecast(&Batch::new("a", charge, vec![Phase::mixing(speed.clone(), minutes)]))[0]
    };
    for heat in &compared.development_heat {
        let start_c = |water_c| mixed(water_c, &heat.speed, 0.0).0;
        let by_water = start_c(1.0) - start_c(0.0);
        let water_c = (24.0 - start_c(0.0)) / by_water;
        let moment = 1e-3;
        let (dough_c, grade) = mixed(water_c, &heat.speed, moment);
        let dose = -(1.0 - grade).ln() / 20_f64.ln();
        let by_meaning = (dough_c - 24.0) / dose;
        assert!((heat.heat_k / by_meaning - 1.0).abs() < 1e-4, "{heat:?} {by_meaning}");
    }
}

/// The interval against draws of all coefficients from the profile's covariance, the formula
/// written by hand: 40 000 draws tell a bound's quantile to about 0.1 %.
#[test]
fn heat_per_full_development_holds_what_the_covariance_allows() {
    let profile = profile();
    let compared = compared(&Wanted { level: 0.8, ..Wanted::default() });
    let names = &profile.covariance.coefficients;
    let matrix = profile.covariance.matrix.as_ref().unwrap();
    let lower = cholesky(matrix);
    let c = PhysicalConstants::default();
    let mass_kg: f64 = FLOUR_KG + WATER_KG + SALT_KG;
    let dough = FLOUR_KG * c.flour_kj_per_kg_k
        + WATER_KG * c.water_kj_per_kg_k
        + SALT_KG * c.salt_kj_per_kg_k;
    let reference = profile.model.reference;
    let mut draws = Draws::seeded(2719);
    let doubts: Vec<(f64, f64)> =
        compared.development_heat.iter().map(|h| h.interval_k.unwrap()).collect();
    let (mut below, mut above) = (vec![0; doubts.len()], vec![0; doubts.len()]);
    const DRAWS: usize = 40_000;
    for _ in 0..DRAWS {
        let z: Vec<f64> = names.iter().map(|_| draws.normal(0.0, 1.0)).collect();
        let of = |name: &str| {
            let entry = profile.coefficients.iter().find(|c| c.name == name).unwrap();
            match names.iter().position(|n| n == name) {
                None => entry.value,
                Some(i) => {
                    let moved: f64 = lower[i].iter().zip(&z).map(|(l, z)| l * z).sum();
                    entry.scale.natural(entry.fitted + moved)
                }
            }
        };
        for (i, (heat, (low, high))) in compared.development_heat.iter().zip(&doubts).enumerate() {
            let power_w = of(&format!("friction_{}", heat.speed))
                * mass_kg
                * (mass_kg / reference.usual_charge_kg).powf(of("charge_exponent"))
                * (-of("stiffness") * (WATER_KG / FLOUR_KG - reference.reference_hydration)).exp();
            let rate = of(&format!("development_{}", heat.speed));
            let drawn_k = 0.06 * power_w / (dough + of("bowl")) / rate;
            below[i] += usize::from(drawn_k < *low);
            above[i] += usize::from(drawn_k > *high);
        }
    }
    // The bowl bends the logarithm a little, so that the sides are not quite alike.
    for (below, above) in below.iter().zip(&above) {
        let share = |count: &usize| *count as f64 / DRAWS as f64;
        let (below, above) = (share(below), share(above));
        assert!((below - 0.1).abs() < 0.02 && (above - 0.1).abs() < 0.02, "{below} {above}");
        assert!((below + above - 0.2).abs() < 0.01, "{below} {above}");
    }
}

fn cholesky(matrix: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let n = matrix.len();
    let mut lower = vec![vec![0.0; n]; n];
    for i in 0..n {
        for j in 0..=i {
            let known: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
            let left = matrix[i][j] - known;
            lower[i][j] = if i == j { left.sqrt() } else { left / lower[j][j] };
        }
    }
    lower
}

/// A flour that nobody logged is outside of the log, and the spreads of its rate and of its
/// friction are two more variances of the heat's logarithm (1.959964 from printed tables).
#[test]
fn an_unknown_flour_is_said() {
    let known = compared(&Wanted::default());
    let mut strange = draft(28.0);
    strange.charge.flour_name = Some("never milled".into());
    let strange = planner().compare(&strange, &Wanted::default()).unwrap();
    assert!(strange.kneaded.outside().iter().any(|o| o.input == "flour"));
    for (a, b) in known.development_heat.iter().zip(&strange.development_heat) {
        let half = |i: Option<(f64, f64)>| i.map(|(low, high)| 0.5 * (high / low).ln()).unwrap();
        // The halves of rate and warming stand at a right angle.
        let added = half(b.interval_k).powi(2) - half(a.interval_k).powi(2);
        let profile = profile();
        let friction = profile.scatter.uncertainties.flour_friction;
        let spread = profile.model.unknown_flour_spread.hypot(friction);
        assert!((a.heat_k / b.heat_k - 1.0).abs() < 1e-12);
        assert!((added.sqrt() / (1.959_964 * spread) - 1.0).abs() < 1e-6, "{a:?} {b:?}");
    }
}

/// The path ends where the plan does, to the bit; on the way it is what a forecast says of
/// the batch stopped there, each phase begun timed once.
#[test]
fn the_path_is_what_forecasts_say() {
    let compared = compared(&Wanted::default());
    let last = compared.path.last().unwrap();
    assert_eq!(last.forecast, compared.kneaded.forecast);
    assert!((last.minutes - compared.minutes()).abs() < 1e-12);
    assert_eq!(compared.path[0].minutes, 0.0);
    assert!(compared.path.len() > 30);
    let batch = &compared.kneaded.batch;
    for point in &compared.path {
        let mut left = point.minutes;
        let phases = batch.phases().map_while(|p| {
            let minutes = p.minutes.min(left);
            left -= minutes;
            (minutes > 1e-9).then(|| Phase { speed: p.speed.clone(), minutes })
        });
        let phases: Vec<Phase> = phases.collect();
        let stopped = Batch::new("a", batch.charge.clone(), phases);
        let said = &planner().forecaster().forecast(&stopped, 0.95).unwrap()[0];
        let bounds = |f: &kneadfit::forecast::Forecast| f.dough_interval_c.unwrap();
        let ((low, high), (said_low, said_high)) = (bounds(&point.forecast), bounds(said));
        assert!((point.forecast.dough_c - said.dough_c).abs() < 1e-9, "{}", point.minutes);
        assert!((low - said_low).abs() < 1e-6 && (high - said_high).abs() < 1e-6, "{point:?}");
    }
}

/// A cap at a quantile of the end is kept with that quantile's chance, whatever the mean.
#[test]
fn a_cap_is_judged_by_its_chance() {
    let free = compared(&Wanted { level: 0.6, ..Wanted::default() });
    let (low_c, high_c) = free.kneaded.forecast.dough_interval_c.unwrap();
    for (cap_c, expected) in [(low_c, 0.2), (high_c, 0.8)] {
        for chance in [0.5, 0.79, 0.81] {
            let wanted = Wanted { cap_c: Some(cap_c), chance, ..Wanted::default() };
            // The chance plans minutes too: only what is kneaded the same is the same.
            let capped = compared(&wanted);
            let cap = capped.cap.unwrap();
            assert_eq!(cap.is_kept, cap.chance.unwrap() >= chance);
            assert!((cap.minutes - capped.minutes()).abs() < 1e-9, "the end is warmest");
            if capped.kneaded.phases == free.kneaded.phases {
                assert!((cap.chance.unwrap() - expected).abs() < 1e-6, "{cap:?} {expected}");
            }
        }
        let same = compared(&Wanted { cap_c: Some(cap_c), ..Wanted::default() });
        assert_eq!(same.kneaded.phases, free.kneaded.phases);
        let cap = same.cap.unwrap();
        assert!((cap.chance.unwrap() - expected).abs() < 1e-6, "{cap:?} {expected}");
        assert!(!cap.is_kept, "0.9 is wanted");
    }
    // A dough that is warmest before it is mixed: the worst moment is the first.
    let hot = draft(4.0).with_water_at(90.0);
    let cap_c = Some(48.0);
    let cooled = planner().compare(&hot, &Wanted { cap_c, ..Wanted::default() }).unwrap();
    if cooled.warmth_k() < -1.0 {
        assert_eq!(cooled.cap.unwrap().minutes, 0.0, "{:?}", cooled.cap);
    } else {
        panic!("another case is needed: {}", cooled.warmth_k());
    }
}

/// Where bounds forbid full development, the comparison says by how much it stays behind.
#[test]
fn what_stays_behind_is_said() {
    let bounds = planner().forecaster().speeds().iter().map(|speed| MinutesBounds {
        speed: speed.clone(),
        least: None,
        most: Some(2.0),
    });
    let short = compared(&Wanted { minutes: bounds.collect(), ..Wanted::default() });
    let dose = short.kneaded.dose.unwrap();
    assert!(dose < 0.9);
    assert!((short.behind() - (1.0 - dose)).abs() < 1e-12);
    assert!(matches!(short.kneaded.short_of[..], [Short::Undeveloped { .. }]));
    let (low, high) = short.kneaded.forecast.development_interval.unwrap();
    let grade = 1.0 - 20_f64.powf(-dose);
    assert!(low < grade && grade < high);
    assert_eq!(compared(&Wanted::default()).behind(), 0.0);
}
