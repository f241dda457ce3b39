//! What a log cannot teach, or hardly, as far as its rows show it before there is a fit.
//!
//! A fit knows more: what is told, and what only together, depends on every reading at
//! once. What is said here is what varied too little, or was never read, for any fit. The
//! batch that would tell is the core's, so that both advise the same.

use std::fmt;
use std::sync::Arc;

use kneadfit::diagnostics::batch_that_tells;
use serde::Serialize;

use crate::summary::shown;

/// Something that a log cannot teach, or hardly.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "gap", rename_all = "snake_case")]
#[non_exhaustive]
pub enum Gap {
    /// No dough temperature: the heat side cannot be calibrated.
    NoDoughTemperatures,
    /// No batch has flour: it teaches heat, and nothing of a dough.
    NoFlour,
    /// Doughs, and no minutes of mixing: all their warmth would be the flour's and the bowl's.
    NoMinutes,
    /// No grade: development cannot be calibrated.
    NoGrades,
    /// One batch: mostly what is usual, little of this machine.
    OneBatch,
    /// A speed of the machine that no batch used.
    SpeedNeverUsed {
        /// The speed's name.
        speed: Arc<str>,
    },
    /// Every reading came after the same minutes at a speed.
    SpeedNeverVaried {
        /// The speed's name.
        speed: Arc<str>,
        /// Those minutes.
        minutes: f64,
    },
    /// Minutes at two speeds rose and fell together: what each adds cannot be parted.
    AlwaysTogether {
        /// One speed.
        one: Arc<str>,
        /// The other.
        other: Arc<str>,
        /// Correlation of their minutes over the readings.
        correlation: f64,
    },
    /// Every charge was about as large.
    ChargesAlike {
        /// The smallest, kg.
        least_kg: f64,
        /// The largest, kg.
        most_kg: f64,
    },
    /// Every dough had about the same hydration.
    HydrationsAlike {
        /// The least, kg of water a kg of flour.
        least: f64,
        /// The most, likewise.
        most: f64,
    },
    /// The room always had the same temperature.
    RoomNeverVaried {
        /// It, °C.
        room_c: f64,
    },
    /// Water was always about as warm.
    WaterAlike {
        /// The coldest, °C.
        least_c: f64,
        /// The warmest, °C.
        most_c: f64,
    },
    /// No dough was read again after a rest in the bowl.
    NoRest,
    /// The bowl always started near the temperature of what went into it.
    BowlNear,
    /// No dough was read soon after the water met the flour.
    NoEarlyReading,
    /// No dough was graded before and after a rest.
    NoGradeAroundRest,
    /// Doughs graded below full were all about as warm.
    GradedAlike {
        /// The coldest, °C.
        least_c: f64,
        /// The warmest, °C.
        most_c: f64,
    },
    /// A few grades below full only.
    FewGrades {
        /// How many.
        grades: usize,
    },
    /// Every grade was full.
    AllFull,
    /// Of a flour there is one grade below full at most.
    FlourHardlyGraded {
        /// The flour's name.
        flour: Arc<str>,
    },
}

impl Gap {
    /// Which batch would close it; `None`: none alone.
    pub fn remedy(&self) -> Option<String> {
        Some(match self {
            Self::NoDoughTemperatures => "read each dough when the mixer has stopped".into(),
            Self::NoFlour | Self::OneBatch => return None,
            Self::NoMinutes => {
                "write the minutes at each speed, headed by the speed's name as minutes_low".into()
            }
            Self::NoGrades | Self::AllFull => "grade some doughs before they are full".into(),
            Self::SpeedNeverUsed { speed } | Self::SpeedNeverVaried { speed, .. } => {
                batch_that_tells(&format!("friction_{speed}"))
            }
            Self::AlwaysTogether { one, other, .. } => {
                format!(
                    "mix one batch long at {one} and short at {other}, and one the other way round"
                )
            }
            Self::ChargesAlike { .. } => batch_that_tells("charge_exponent"),
            Self::HydrationsAlike { .. } => batch_that_tells("stiffness"),
            Self::RoomNeverVaried { .. } | Self::NoRest => batch_that_tells("exchange"),
            Self::WaterAlike { .. } => batch_that_tells("softening"),
            Self::BowlNear => batch_that_tells("bowl"),
            Self::NoEarlyReading => batch_that_tells("wetting"),
            Self::NoGradeAroundRest => batch_that_tells("development_at_rest"),
            Self::GradedAlike { .. } | Self::FewGrades { .. } => batch_that_tells("q10"),
            Self::FlourHardlyGraded { flour } => batch_that_tells(&format!("flour_{flour}")),
        })
    }
}

/// `12.5`, or `12 to 16.5`.
fn span(least: f64, most: f64) -> String {
    let (least, most) = (shown(least), shown(most));
    if least == most { format!("{most}") } else { format!("{least} to {most}") }
}

impl fmt::Display for Gap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoDoughTemperatures => {
                write!(f, "no dough temperature was read: how it warms the dough stays unknown")
            }
            Self::NoFlour => {
                write!(f, "no batch has flour: it teaches heat, and nothing of a dough")
            }
            Self::NoMinutes => {
                write!(f, "no minutes of mixing are logged: what the machine does stays unknown")
            }
            Self::NoGrades => {
                write!(f, "no development was graded: how it develops the dough stays unknown")
            }
            Self::OneBatch => write!(f, "one batch alone says little of this machine's own"),
            Self::SpeedNeverUsed { speed } => write!(f, "{speed} was never used"),
            Self::SpeedNeverVaried { speed, minutes } => write!(
                f,
                "minutes at {speed} never varied (always {}): what it adds cannot be told from the rest",
                shown(*minutes)
            ),
            Self::AlwaysTogether { one, other, .. } => write!(
                f,
                "minutes at {one} and at {other} always rose together: which of the two warms the dough cannot be told"
            ),
            Self::ChargesAlike { least_kg, most_kg } => write!(
                f,
                "charges were all {} kg: how a small or a large dough differs is hard to tell",
                span(*least_kg, *most_kg)
            ),
            Self::HydrationsAlike { least, most } => write!(
                f,
                "hydrations were all {} %: how a stiff or a soft dough differs is hard to tell",
                span((least * 1000.0).round() / 10.0, (most * 1000.0).round() / 10.0)
            ),
            Self::RoomNeverVaried { room_c } => write!(
                f,
                "the room never varied (always {} °C): what it takes or gives is hard to tell",
                shown(*room_c)
            ),
            Self::WaterAlike { least_c, most_c } => write!(
                f,
                "water was always {} °C: how friction falls as the dough warms is hard to tell",
                span(*least_c, *most_c)
            ),
            Self::NoRest => write!(
                f,
                "no dough was read after a rest in the bowl: the exchange with the room is hard to tell"
            ),
            Self::BowlNear => write!(
                f,
                "the bowl always started near the warmth of what went in: its share of the heat is hard to tell"
            ),
            Self::NoEarlyReading => write!(
                f,
                "no dough was read soon after the water met the flour: the warmth of wetting is hard to tell"
            ),
            Self::NoGradeAroundRest => write!(
                f,
                "no dough was graded before and after a rest: development at rest stays unknown"
            ),
            Self::GradedAlike { least_c, most_c } => write!(
                f,
                "doughs graded below full were all {} °C: what warmth does to development is hard to tell",
                span(*least_c, *most_c)
            ),
            Self::FewGrades { grades: 1 } => {
                write!(f, "one grade below full alone says little of how it develops the dough")
            }
            Self::FewGrades { grades } => write!(
                f,
                "there are {grades} grades below full: what warmth does to development is hard to tell"
            ),
            Self::AllFull => write!(
                f,
                "every grade is full, which says only \u{201c}at least full\u{201d}: the minutes that it takes are hard to tell"
            ),
            Self::FlourHardlyGraded { flour } => {
                write!(f, "few gradeable batches were of {flour}: how it develops is hard to tell")
            }
        }
    }
}
