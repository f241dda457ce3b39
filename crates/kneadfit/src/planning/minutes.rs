//! Minutes at each speed that reach a dose with the least heat taken up by the dough.
//!
//! One constraint and a few bounded minutes: at the best, all minutes but one stand at a
//! bound or are in balance with it. From a first choice, cheapest speed first, pairs are
//! exchanged: one speed's minutes move, another's keep the dose, as long as the reduced
//! derivative
//!
//! ```text
//! r_j = ∂heat/∂t_j − λ ∂dose/∂t_j,     λ = (∂heat/∂t_b) / (∂dose/∂t_b)
//! ```
//!
//! says that heat is saved; to the bound, or to where it is nought.

use super::path::{Path, PathLeg, Start};
use crate::thermal::Setting;

/// Minutes that are wanted, between bounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Free {
    /// Which leg.
    pub leg: usize,
    /// Least minutes.
    pub least: f64,
    /// Most minutes.
    pub most: f64,
}

/// A programme whose free minutes are sought.
pub(super) struct Search<'a> {
    pub setting: &'a Setting,
    pub ln_q10: f64,
    pub start: Start,
    pub free: &'a [Free],
    pub path: Path,
    pub legs: Vec<PathLeg>,
    /// The most heat is sought instead of the least.
    pub hottest: bool,
}

/// Exchanges of pairs; each either ends at a bound or in balance.
const MOST_EXCHANGES: usize = 60;
/// Doses and reduced derivatives are met to this share.
const MET: f64 = 1e-12;
const MOST_HALVINGS: usize = 200;

impl Search<'_> {
    fn walk(&mut self) {
        self.path.walk(self.setting, self.ln_q10, self.start, &self.legs);
    }

    fn set(&mut self, free: Free, minutes: f64) {
        self.legs[free.leg].minutes = minutes.clamp(free.least, free.most);
    }

    /// Derivatives of heat and dose by the minutes of a free leg.
    fn by(&self, free: Free) -> (f64, f64) {
        let heat = self.path.heat_kj.by_minutes[free.leg];
        let heat = if self.hottest { -heat } else { heat };
        (heat, self.path.dose.by_minutes[free.leg])
    }

    /// What is made as small as can be, kJ.
    fn cost_kj(&self) -> f64 {
        if self.hottest { -self.path.heat_kj.value } else { self.path.heat_kj.value }
    }

    /// Sets the free minutes to the least heat that reaches `dose`; where no minutes reach
    /// it, to those that come nearest. Returns the dose reached.
    pub fn least_heat(&mut self, dose: f64) -> f64 {
        for &free in self.free {
            self.set(free, free.least);
        }
        self.walk();
        if self.path.dose.value >= dose || self.free.is_empty() {
            return self.path.dose.value;
        }
        self.fill(dose);
        if self.path.dose.value < dose * (1.0 - MET) {
            self.strive(dose);
        }
        for _ in 0..MOST_EXCHANGES {
            if !self.exchange(dose) {
                break;
            }
        }
        self.walk();
        self.path.dose.value
    }

    /// From the least minutes up, the speed that develops for the least heat first.
    fn fill(&mut self, dose: f64) {
        let mut left: Vec<Free> = self.free.to_vec();
        while !left.is_empty() {
            let cost = |free: &Free| {
                let (heat, dose) = self.by(*free);
                if dose > 0.0 { heat / dose } else { f64::INFINITY }
            };
            let cheapest = (0..left.len())
                .min_by(|&a, &b| cost(&left[a]).total_cmp(&cost(&left[b])))
                .expect("not empty");
            if cost(&left[cheapest]) == f64::INFINITY {
                break;
            }
            let free = left.swap_remove(cheapest);
            if self.meet(free, dose) {
                break;
            }
            self.walk();
        }
        self.walk();
    }

    /// Turn by turn, the minutes at which each speed develops most, until the dose is met
    /// or nothing gains any more.
    fn strive(&mut self, dose: f64) {
        for _ in 0..MOST_EXCHANGES {
            let before = self.path.dose.value;
            for &free in self.free {
                if self.meet(free, dose) {
                    return;
                }
                if self.path.dose.value < dose {
                    self.most_developed(free);
                }
            }
            if self.path.dose.value <= before * (1.0 + 1e-9) {
                return;
            }
        }
    }

    /// Sets one leg's minutes to where the dose is largest.
    fn most_developed(&mut self, free: Free) {
        let (mut rising, mut falling) = (free.least, free.most);
        for minutes in [falling, rising] {
            self.set(free, minutes);
            self.walk();
            if (self.by(free).1 > 0.0) == (minutes == falling) {
                return;
            }
        }
        while falling - rising > 1e-9 {
            let middle = 0.5 * (rising + falling);
            self.set(free, middle);
            self.walk();
            if self.by(free).1 > 0.0 { rising = middle } else { falling = middle }
        }
    }

    /// Moves one leg's minutes to where the dose is met; whether it is within its bounds.
    /// Where it is not, they stand at the bound that comes nearest.
    fn meet(&mut self, free: Free, dose: f64) -> bool {
        let (mut low, mut high) = (free.least, free.most);
        let at = |search: &mut Self, minutes: f64| {
            search.set(free, minutes);
            search.walk();
            search.path.dose.value - dose
        };
        if at(self, high) < 0.0 {
            // Where the start follows the end, a hot speed may need so cold a start that
            // more of it develops less: then the most lies on the way.
            if self.by(free).1 >= 0.0 {
                return false;
            }
            let mut rising = low;
            for _ in 0..MOST_HALVINGS {
                let middle = 0.5 * (rising + high);
                if at(self, middle) >= 0.0 {
                    high = middle;
                    break;
                }
                if self.by(free).1 > 0.0 {
                    rising = middle
                } else {
                    high = middle
                }
                if high - rising < 1e-9 {
                    return false;
                }
            }
        }
        if at(self, low) > 0.0 {
            return false;
        }
        let mut minutes = 0.5 * (low + high);
        for _ in 0..MOST_HALVINGS {
            let over = at(self, minutes);
            if over.abs() <= MET * dose {
                break;
            }
            if over > 0.0 {
                high = minutes;
            } else {
                low = minutes;
            }
            let newton = minutes - over / self.by(free).1;
            let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
            if next == minutes {
                break;
            }
            minutes = next;
        }
        true
    }

    /// One exchange; whether heat was saved.
    fn exchange(&mut self, dose: f64) -> bool {
        if self.path.dose.value < dose * (1.0 - 1e-9) {
            return false;
        }
        let Some(basic) = self.basic() else { return false };
        let (heat, gain) = self.by(basic);
        let price = heat / gain;
        let best = self
            .free
            .iter()
            .filter(|j| j.leg != basic.leg)
            .filter_map(|&j| {
                let (heat, gain) = self.by(j);
                let reduced = heat - price * gain;
                let minutes = self.legs[j.leg].minutes;
                let room = if reduced < 0.0 { j.most - minutes } else { minutes - j.least };
                // Less than a hair of heat is not worth a step.
                (room > 1e-9 && reduced.abs() > 1e-9 * heat.abs().max(price.abs() * gain.abs()))
                    .then_some((reduced.abs() * room, j, reduced))
            })
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let Some((_, j, reduced)) = best else { return false };
        let from = self.legs[j.leg].minutes;
        let before = (self.cost_kj(), self.legs.clone());
        let far = self.farthest(j, basic, reduced < 0.0, dose);
        // Whether heat still falls at the far end; if not, it is least on the way.
        let slope = self.reduced(j, basic);
        if (slope < 0.0) != (reduced < 0.0) {
            let (mut near, mut far) = (from, far);
            for _ in 0..60 {
                let middle = 0.5 * (near + far);
                self.set(j, middle);
                let met = self.meet(basic, dose);
                if met && (self.reduced(j, basic) < 0.0) == (reduced < 0.0) {
                    near = middle;
                } else {
                    far = middle;
                }
                if (far - near).abs() < 1e-12 * from.abs().max(1.0) {
                    break;
                }
            }
            self.set(j, near);
            self.meet(basic, dose);
        }
        self.walk();
        let saved = before.0 - self.cost_kj();
        let reached = self.path.dose.value >= dose * (1.0 - 1e-9);
        if !reached || saved <= 1e-10 * before.0.abs() {
            self.legs = before.1;
            self.walk();
            return false;
        }
        true
    }

    fn reduced(&self, j: Free, basic: Free) -> f64 {
        let ((heat_j, gain_j), (heat_b, gain_b)) = (self.by(j), self.by(basic));
        heat_j - heat_b / gain_b * gain_j
    }

    /// The leg that keeps the dose: the one with the most room on both sides.
    fn basic(&self) -> Option<Free> {
        let room = |f: &Free| {
            let minutes = self.legs[f.leg].minutes;
            (minutes - f.least).min(f.most - minutes)
        };
        let able = self.free.iter().copied().filter(|f| self.by(*f).1 > 0.0);
        let inside = able.clone().filter(|f| room(f) > 1e-9);
        inside.max_by(|a, b| room(a).total_cmp(&room(b))).or_else(|| {
            able.max_by(|a, b| {
                let down = |f: &Free| self.legs[f.leg].minutes - f.least;
                down(a).total_cmp(&down(b))
            })
        })
    }

    /// Moves `j` as far as its bounds go and `basic` can keep the dose; returns where to.
    fn farthest(&mut self, j: Free, basic: Free, up: bool, dose: f64) -> f64 {
        let bound = if up { j.most } else { j.least };
        let from = self.legs[j.leg].minutes;
        self.set(j, bound);
        if self.meet(basic, dose) {
            return bound;
        }
        // The basic leg comes to its own bound first: where, by halving.
        let (mut near, mut far) = (from, bound);
        for _ in 0..MOST_HALVINGS {
            let middle = 0.5 * (near + far);
            self.set(j, middle);
            if self.meet(basic, dose) {
                near = middle
            } else {
                far = middle
            }
            if (far - near).abs() < 1e-12 * from.abs().max(1.0) {
                break;
            }
        }
        self.set(j, near);
        self.meet(basic, dose);
        near
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

    fn search<'a>(setting: &'a Setting, free: &'a [Free]) -> Search<'a> {
        let leg = |power_w, dose_per_min| PathLeg { power_w, dose_per_min, minutes: 0.0 };
        Search {
            setting,
            ln_q10: 0.4,
            start: Start::EndingAt { end_c: 24.0, least_c: -50.0, most_c: 60.0 },
            free,
            path: Path::default(),
            hottest: false,
            legs: vec![leg(480.0, 0.05), leg(900.0, 0.11), leg(1900.0, 0.16)],
        }
    }

    /// Outside check: every programme of a fine grid that reaches the dose costs at least
    /// as much heat.
    #[test]
    fn no_other_programme_reaches_the_dose_with_less_heat() {
        let setting = setting();
        let cases = [
            [(2.0, 20.0), (0.0, 20.0), (0.0, 20.0)],
            [(2.0, 8.0), (1.0, 11.0), (0.0, 20.0)],
            [(8.0, 20.0), (3.0, 20.0), (1.0, 2.0)],
        ];
        for case in cases {
            let free: Vec<Free> = case
                .iter()
                .enumerate()
                .map(|(leg, &(least, most))| Free { leg, least, most })
                .collect();
            let mut best = search(&setting, &free);
            let dose = best.least_heat(1.0);
            assert!((dose - 1.0).abs() < 1e-9, "{dose}");
            let least_kj = best.path.heat_kj.value;
            let mut tried = 0;
            for a in 0..=40 {
                for b in 0..=40 {
                    let on = |i: usize, k: i32| {
                        let (least, most) = case[i];
                        least + (most - least) * f64::from(k) / 40.0
                    };
                    let mut other = search(&setting, &free);
                    other.legs[0].minutes = on(0, a);
                    other.legs[1].minutes = on(1, b);
                    if other.meet(free[2], 1.0) {
                        tried += 1;
                        let heat_kj = other.path.heat_kj.value;
                        assert!(heat_kj > least_kj * (1.0 - 1e-9), "{heat_kj} {least_kj}");
                    }
                }
            }
            assert!(tried > 50, "{tried}");
        }
    }

    #[test]
    fn what_cannot_be_reached_comes_as_near_as_it_may() {
        let setting = setting();
        let free = [Free { leg: 0, least: 1.0, most: 3.0 }, Free { leg: 1, least: 0.0, most: 2.0 }];
        let mut short = search(&setting, &free);
        let dose = short.least_heat(1.0);
        assert!(dose < 0.5);
        assert_eq!((short.legs[0].minutes, short.legs[1].minutes), (3.0, 2.0));
    }
}
