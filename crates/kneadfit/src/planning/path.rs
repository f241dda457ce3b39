//! What a dough goes through on a programme: temperature, dose and the heat it takes up, with
//! their derivatives by the start temperature and by the minutes of each leg.

use crate::development::DEVELOPMENT_REFERENCE_C;
use crate::numeric::quadrature;
use crate::thermal::Setting;

/// Minutes at one power, or of rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct PathLeg {
    /// Friction power, W; 0 is rest.
    pub power_w: f64,
    /// Development a minute at 24 °C.
    pub dose_per_min: f64,
    /// How long, minutes.
    pub minutes: f64,
}

/// A quantity at the end of a programme, with its derivatives.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Derived {
    pub value: f64,
    /// By the start temperature, a K.
    pub by_start: f64,
    /// By the minutes of each leg.
    pub by_minutes: Vec<f64>,
}

impl Derived {
    fn clear(&mut self, legs: usize) {
        self.value = 0.0;
        self.by_start = 0.0;
        self.by_minutes.clear();
        self.by_minutes.resize(legs, 0.0);
    }

    fn add(&mut self, scale: f64, at: &Derived) {
        self.by_start += scale * at.by_start;
        for (sum, by) in self.by_minutes.iter_mut().zip(&at.by_minutes) {
            *sum += scale * by;
        }
    }

    /// The derivatives by minutes when the start moves with them, by `start_by_minutes`.
    fn follow(&mut self, start_by_minutes: &[f64]) {
        for (by, start) in self.by_minutes.iter_mut().zip(start_by_minutes) {
            *by += self.by_start * start;
        }
    }
}

/// Where the temperature of a dough begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Start {
    /// At a temperature, °C.
    At(f64),
    /// Where the dough ends at `end_c`, but not below `least_c` nor above `most_c`, °C.
    EndingAt { end_c: f64, least_c: f64, most_c: f64 },
}

/// What a programme comes to; holds its room, so that a search allocates nothing.
#[derive(Clone, Debug, Default)]
pub(super) struct Path {
    /// Temperature once everything is wet, °C.
    pub start_c: f64,
    /// Temperature at the end, °C.
    pub end: Derived,
    /// Development, in full developments.
    pub dose: Derived,
    /// Heat that dough and bowl take up from start to end, kJ: friction, less what goes to the
    /// room. The water must be the colder for it.
    pub heat_kj: Derived,
    here: Derived,
    at_node: Derived,
}

impl Path {
    /// Walks the programme. Development goes faster by `ln_q10 / 10` a K.
    pub fn walk(&mut self, setting: &Setting, ln_q10: f64, start: Start, legs: &[PathLeg]) {
        let (start_c, start_by_minutes) = match start {
            Start::At(start_c) => (start_c, None),
            Start::EndingAt { end_c, least_c, most_c } => {
                self.end_only(setting, 0.0, legs);
                // The end is a straight line in the start.
                let wanted_c = (end_c - self.end.value) / self.end.by_start;
                let start_c = wanted_c.clamp(least_c, most_c);
                let moves = start_c == wanted_c;
                let by = moves.then(|| {
                    self.end_only(setting, start_c, legs);
                    let by_start = self.end.by_start;
                    self.end.by_minutes.iter().map(|by| -by / by_start).collect::<Vec<f64>>()
                });
                (start_c, by)
            }
        };
        self.whole(setting, ln_q10, start_c, legs);
        if let Some(start_by_minutes) = start_by_minutes {
            for derived in [&mut self.end, &mut self.dose, &mut self.heat_kj] {
                derived.follow(&start_by_minutes);
            }
        }
    }

    /// The temperature at the end alone.
    pub fn end_only(&mut self, setting: &Setting, start_c: f64, legs: &[PathLeg]) {
        self.end.clear(legs.len());
        self.end.value = start_c;
        self.end.by_start = 1.0;
        for (i, leg) in legs.iter().enumerate() {
            let passage = setting.flow(leg.power_w).pass(self.end.value, leg.minutes);
            self.end.value = passage.end_c;
            self.end.by_start *= passage.by_start;
            for by in &mut self.end.by_minutes[..i] {
                *by *= passage.by_start;
            }
            self.end.by_minutes[i] = passage.by_minutes;
        }
    }

    fn whole(&mut self, setting: &Setting, ln_q10: f64, start_c: f64, legs: &[PathLeg]) {
        let Self { here, at_node, dose, heat_kj, .. } = self;
        for derived in [&mut *here, &mut *at_node, &mut *dose] {
            derived.clear(legs.len());
        }
        here.value = start_c;
        here.by_start = 1.0;
        for (i, leg) in legs.iter().enumerate() {
            let flow = setting.flow(leg.power_w);
            quadrature::for_each_node(flow.rate_per_min * leg.minutes, |at, weight| {
                let passage = flow.pass(here.value, at * leg.minutes);
                at_node.value = passage.end_c;
                at_node.by_start = passage.by_start * here.by_start;
                for (to, from) in at_node.by_minutes.iter_mut().zip(&here.by_minutes) {
                    *to = passage.by_start * from;
                }
                at_node.by_minutes[i] = at * passage.by_minutes;
                let warmer = (at_node.value - DEVELOPMENT_REFERENCE_C) / 10.0 * ln_q10;
                let rate = leg.dose_per_min * warmer.exp();
                dose.value += weight * leg.minutes * rate;
                dose.by_minutes[i] += weight * rate;
                dose.add(weight * leg.minutes * rate * ln_q10 / 10.0, at_node);
            });
            let passage = flow.pass(here.value, leg.minutes);
            here.value = passage.end_c;
            here.by_start *= passage.by_start;
            for by in &mut here.by_minutes[..i] {
                *by *= passage.by_start;
            }
            here.by_minutes[i] = passage.by_minutes;
        }
        heat_kj.value = setting.capacity * (here.value - start_c);
        heat_kj.by_start = setting.capacity * (here.by_start - 1.0);
        heat_kj.by_minutes.clear();
        heat_kj.by_minutes.extend(here.by_minutes.iter().map(|by| setting.capacity * by));
        self.start_c = start_c;
        self.end.clone_from(&self.here);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn setting() -> Setting {
        Setting {
            capacity: 50.0,
            start_c: 12.0,
            power_kg: 16.0,
            exchange_w_per_k: 5.0,
            softening_per_k: 0.02,
            reference_c: 24.0,
            room_c: 27.0,
            ..Setting::default()
        }
    }

    fn legs() -> Vec<PathLeg> {
        let leg = |power_w, dose_per_min, minutes| PathLeg { power_w, dose_per_min, minutes };
        vec![leg(480.0, 0.03, 5.0), leg(0.0, 0.004, 12.0), leg(1600.0, 0.1, 6.0)]
    }

    /// Derivatives against central differences of the values, for both kinds of start.
    #[test]
    fn derivatives_are_those_of_differences() {
        let starts = [
            Start::At(11.0),
            Start::EndingAt { end_c: 24.0, least_c: -20.0, most_c: 40.0 },
            Start::EndingAt { end_c: 24.0, least_c: 15.0, most_c: 40.0 },
        ];
        for start in starts {
            let mut path = Path::default();
            path.walk(&setting(), 0.4, start, &legs());
            for i in 0..3 {
                let of = |value: fn(&Path) -> f64| {
                    let at = |step: f64| {
                        let mut moved = legs();
                        moved[i].minutes += step;
                        let mut path = Path::default();
                        path.walk(&setting(), 0.4, start, &moved);
                        value(&path)
                    };
                    let step = 1e-3;
                    (8.0 * (at(step) - at(-step)) - (at(2.0 * step) - at(-2.0 * step)))
                        / (12.0 * step)
                };
                let close = |exact: f64, by_differences: f64, what: &str| {
                    assert!(
                        (exact - by_differences).abs() < 1e-7 * exact.abs().max(1e-2),
                        "{start:?} {what} {i}: {exact} {by_differences}"
                    );
                };
                close(path.end.by_minutes[i], of(|p| p.end.value), "end");
                close(path.dose.by_minutes[i], of(|p| p.dose.value), "dose");
                close(path.heat_kj.by_minutes[i], of(|p| p.heat_kj.value), "heat");
            }
        }
    }

    /// The first law of thermodynamics, the outside source of this check: what the dough
    /// takes up is what friction gives, less what goes to the room, both summed up along a
    /// path of small steps (Euler's, halfway).
    #[test]
    fn heat_taken_up_is_friction_less_what_the_room_takes() {
        let s = setting();
        let mut path = Path::default();
        path.walk(&s, 0.4, Start::At(11.0), &legs());
        let (mut dough_c, mut taken_kj) = (11.0, 0.0);
        for leg in legs() {
            let steps = 20_000;
            let step = leg.minutes / f64::from(steps);
            let kj_per_min = |c: f64| {
                let friction_w = leg.power_w * (1.0 - s.softening_per_k * (c - s.reference_c));
                0.06 * (friction_w - s.exchange_w_per_k * (c - s.room_c))
            };
            for _ in 0..steps {
                let halfway_c = dough_c + 0.5 * step * kj_per_min(dough_c) / s.capacity;
                let kj = step * kj_per_min(halfway_c);
                taken_kj += kj;
                dough_c += kj / s.capacity;
            }
        }
        assert!((path.heat_kj.value - taken_kj).abs() < 1e-6 * taken_kj);
        assert!((path.end.value - dough_c).abs() < 1e-6);
    }

    #[test]
    fn a_start_is_found_that_ends_as_wanted() {
        let mut path = Path::default();
        let start = Start::EndingAt { end_c: 24.0, least_c: -20.0, most_c: 40.0 };
        path.walk(&setting(), 0.4, start, &legs());
        assert!((path.end.value - 24.0).abs() < 1e-12);
    }
}
