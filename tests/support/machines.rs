//! Machines of a baker's kind: what a kneader of each kind truly does, and its spread.

use std::sync::Arc;

use super::rng::Draws;

/// The kinds of kneading that are simulated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MachineKind {
    /// Spiral mixer, two speeds: efficient, moderately warm.
    Spiral,
    /// Domestic planetary mixer, three speeds: warms much for what it develops.
    Planetary,
    /// Two hands and a bench: slow, cool, near to the room's temperature.
    Hands,
    /// Diving-arm mixer, two speeds: gentler than a spiral.
    DivingArm,
}

impl MachineKind {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Spiral, Self::Planetary, Self::Hands, Self::DivingArm];

    /// The machine's name in a log.
    pub fn name(self) -> &'static str {
        match self {
            Self::Spiral => "spiral",
            Self::Planetary => "planetary",
            Self::Hands => "hands",
            Self::DivingArm => "diving-arm",
        }
    }

    /// Its speeds in the order in which they are used.
    pub fn speeds(self) -> &'static [&'static str] {
        match self {
            Self::Spiral | Self::DivingArm => &["low", "high"],
            Self::Planetary => &["low", "medium", "high"],
            Self::Hands => &["hand"],
        }
    }
}

/// One speed of a true machine.
#[derive(Clone, Debug)]
pub struct Speed {
    /// Its name.
    pub name: Arc<str>,
    /// Friction power in W per kg of a picked-up dough of 65 % hydration at 24 °C, at
    /// the usual charge. Part of it goes into the tool: see [`Machine::tool_share`].
    pub friction_w_per_kg: f64,
    /// Development dose a minute of such a dough; 1 is full development.
    pub development_per_min: f64,
}

/// What a kneader truly does. Conductances scale with dough mass as `kg^⅔`, as
/// surfaces do.
#[derive(Clone, Debug)]
pub struct Machine {
    /// Of which kind it is.
    pub kind: MachineKind,
    /// Its speeds in the order in which they are used.
    pub speeds: Vec<Speed>,
    /// The largest dough that is usually mixed, kg.
    pub usual_dough_kg: f64,
    /// Heat capacity of bowl, tool or bench that takes part, kJ/K.
    pub bowl_kj_per_k: f64,
    /// Between dough and bowl, W/(K·kg^⅔).
    pub dough_bowl_w_per_k: f64,
    /// Between the dough's open surface and the air, W/(K·kg^⅔).
    pub dough_room_w_per_k: f64,
    /// Between bowl and room, W/(K·kg^⅔) of the usual charge.
    pub bowl_room_w_per_k: f64,
    /// Between dough and the hands that knead it (33 °C), W/(K·kg^⅔), while kneading.
    pub dough_hands_w_per_k: f64,
    /// Heat of evaporation for each kPa of vapour pressure between dough and air, W/kg^⅔.
    pub evaporation_w_per_kpa: f64,
    /// Share of the friction power that warms tool and bowl first.
    pub tool_share: f64,
    /// Exponent of friction by load, beyond proportional to mass.
    pub load_exponent: f64,
    /// Relative loss of friction a °C, exponential.
    pub softening_per_k: f64,
    /// Exponent of friction by stiffness (free water a kg of flour).
    pub stiffness_exponent: f64,
    /// Share of the full friction that an undeveloped dough lacks.
    pub pickup_share: f64,
    /// Share of the nominal friction below which a speed develops nothing.
    pub critical_share: f64,
    /// Development is this much faster for 10 °C more.
    pub q10: f64,
    /// Development dose a minute of rest, at 24 °C.
    pub rest_per_min: f64,
    /// Exponent of the dose in the grade, `1 − 20^(−X^s)`.
    pub grade_exponent: f64,
}

/// Least, most likely and most of a triangular spread.
#[derive(Clone, Copy)]
struct Spread(f64, f64, f64);

impl Spread {
    fn draw(self, draws: &mut Draws) -> f64 {
        draws.triangular(self.0, self.1, self.2)
    }
}

/// What machines of one kind have in common.
struct Kind {
    friction_w_per_kg: &'static [Spread],
    /// Development dose a minute for each W/kg: how well the power is used.
    dose_per_min_per_w_kg: f64,
    usual_dough_kg: Spread,
    /// Bowl and tool as a share of the usual dough's heat capacity.
    bowl_share: Spread,
    dough_bowl_w_per_k: Spread,
    dough_room_w_per_k: Spread,
    bowl_room_w_per_k: Spread,
    dough_hands_w_per_k: Spread,
}

impl Kind {
    fn of(kind: MachineKind) -> Self {
        match kind {
            MachineKind::Spiral => Self {
                friction_w_per_kg: &[Spread(15.0, 19.0, 25.0), Spread(35.0, 45.0, 60.0)],
                dose_per_min_per_w_kg: 0.0036,
                usual_dough_kg: Spread(12.0, 25.0, 60.0),
                bowl_share: Spread(0.06, 0.11, 0.18),
                dough_bowl_w_per_k: Spread(3.5, 5.5, 8.0),
                dough_room_w_per_k: Spread(0.2, 0.35, 0.6),
                bowl_room_w_per_k: Spread(0.3, 0.5, 0.8),
                dough_hands_w_per_k: Spread(0.0, 0.0, 0.0),
            },
            MachineKind::Planetary => Self {
                friction_w_per_kg: &[
                    Spread(20.0, 27.0, 35.0),
                    Spread(45.0, 58.0, 80.0),
                    Spread(90.0, 100.0, 150.0),
                ],
                dose_per_min_per_w_kg: 0.0019,
                usual_dough_kg: Spread(1.0, 1.6, 2.6),
                bowl_share: Spread(0.07, 0.12, 0.2),
                dough_bowl_w_per_k: Spread(3.5, 5.5, 8.0),
                dough_room_w_per_k: Spread(0.2, 0.35, 0.6),
                bowl_room_w_per_k: Spread(0.3, 0.5, 0.9),
                dough_hands_w_per_k: Spread(0.0, 0.0, 0.0),
            },
            MachineKind::Hands => Self {
                friction_w_per_kg: &[Spread(5.0, 8.0, 12.0)],
                dose_per_min_per_w_kg: 0.0085,
                usual_dough_kg: Spread(0.9, 1.6, 3.0),
                bowl_share: Spread(0.05, 0.09, 0.15),
                dough_bowl_w_per_k: Spread(2.0, 3.5, 5.0),
                dough_room_w_per_k: Spread(0.7, 1.2, 1.8),
                bowl_room_w_per_k: Spread(1.0, 1.6, 2.5),
                dough_hands_w_per_k: Spread(0.1, 0.25, 0.5),
            },
            MachineKind::DivingArm => Self {
                friction_w_per_kg: &[Spread(10.0, 14.0, 18.0), Spread(22.0, 28.0, 36.0)],
                dose_per_min_per_w_kg: 0.0046,
                usual_dough_kg: Spread(15.0, 30.0, 60.0),
                bowl_share: Spread(0.08, 0.13, 0.2),
                dough_bowl_w_per_k: Spread(3.0, 4.5, 6.0),
                dough_room_w_per_k: Spread(0.4, 0.6, 0.9),
                bowl_room_w_per_k: Spread(0.3, 0.5, 0.8),
                dough_hands_w_per_k: Spread(0.0, 0.0, 0.0),
            },
        }
    }
}

/// Heat capacity of a bread dough of 65 % hydration, kJ/(kg·K), to turn shares into kJ/K.
const DOUGH_KJ_PER_KG_K: f64 = 2.76;

impl Machine {
    /// The machine of this kind that has the most likely value of everything.
    pub fn typical(kind: MachineKind) -> Self {
        let k = Kind::of(kind);
        let usual_dough_kg = k.usual_dough_kg.1;
        Self {
            kind,
            speeds: kind
                .speeds()
                .iter()
                .zip(k.friction_w_per_kg)
                .map(|(&name, friction)| Speed {
                    name: name.into(),
                    friction_w_per_kg: friction.1,
                    development_per_min: friction.1 * k.dose_per_min_per_w_kg,
                })
                .collect(),
            usual_dough_kg,
            bowl_kj_per_k: k.bowl_share.1 * usual_dough_kg * DOUGH_KJ_PER_KG_K,
            dough_bowl_w_per_k: k.dough_bowl_w_per_k.1,
            dough_room_w_per_k: k.dough_room_w_per_k.1,
            bowl_room_w_per_k: k.bowl_room_w_per_k.1,
            dough_hands_w_per_k: k.dough_hands_w_per_k.1,
            evaporation_w_per_kpa: 1.2,
            tool_share: 0.08,
            load_exponent: 0.0,
            softening_per_k: 0.02,
            stiffness_exponent: 0.5,
            pickup_share: 0.25,
            critical_share: 0.2,
            q10: 1.5,
            rest_per_min: 0.006,
            grade_exponent: 1.05,
        }
    }

    /// A machine of this kind, different from the next one as machines are.
    pub fn draw(draws: &mut Draws, kind: MachineKind) -> Self {
        let k = Kind::of(kind);
        let usual_dough_kg = k.usual_dough_kg.draw(draws);
        let dose_per_min_per_w_kg = draws.lognormal(k.dose_per_min_per_w_kg, 0.15);
        // The speeds of one machine are strong or weak together: half of the spread
        // is the machine's, half each speed's own.
        let strength = draws.unit();
        let speeds = kind
            .speeds()
            .iter()
            .zip(k.friction_w_per_kg)
            .map(|(&name, friction)| {
                let of_machine = if strength < 0.5 {
                    friction.0 + (friction.1 - friction.0) * 2.0 * strength
                } else {
                    friction.1 + (friction.2 - friction.1) * (2.0 * strength - 1.0)
                };
                let friction_w_per_kg = 0.5 * (of_machine + friction.draw(draws));
                let development_per_min =
                    friction_w_per_kg * draws.lognormal(dose_per_min_per_w_kg, 0.08);
                Speed { name: name.into(), friction_w_per_kg, development_per_min }
            })
            .collect();
        Self {
            kind,
            speeds,
            usual_dough_kg,
            bowl_kj_per_k: k.bowl_share.draw(draws) * usual_dough_kg * DOUGH_KJ_PER_KG_K,
            dough_bowl_w_per_k: k.dough_bowl_w_per_k.draw(draws),
            dough_room_w_per_k: k.dough_room_w_per_k.draw(draws),
            bowl_room_w_per_k: k.bowl_room_w_per_k.draw(draws),
            dough_hands_w_per_k: k.dough_hands_w_per_k.draw(draws),
            evaporation_w_per_kpa: draws.triangular(0.5, 1.2, 2.5),
            tool_share: draws.triangular(0.03, 0.08, 0.15),
            load_exponent: draws.normal(0.0, 0.08),
            softening_per_k: draws.triangular(0.01, 0.02, 0.028),
            stiffness_exponent: draws.triangular(0.2, 0.5, 0.9),
            pickup_share: draws.triangular(0.1, 0.25, 0.4),
            critical_share: draws.triangular(0.1, 0.2, 0.35),
            q10: draws.lognormal(1.5, 0.1),
            rest_per_min: draws.lognormal(0.006, 0.4),
            grade_exponent: draws.triangular(0.95, 1.05, 1.2),
        }
    }
}
