//! What is to be planned: a dough with gaps, and what is wanted of it.

use std::sync::Arc;

use crate::batch::{Batch, Stage};
use crate::charge::Charge;

/// Temperature of the ice where nothing is said of it, °C: from a machine or a drawer that
/// keeps it from melting, as common practice goes.
pub const USUAL_ICE_C: f64 = -4.0;

/// Minutes at one speed, or of rest; `None`: to be planned.
#[derive(Clone, Debug, PartialEq)]
pub struct DraftPhase {
    /// The speed's name, or [`crate::charge::REST`].
    pub speed: Arc<str>,
    /// Minutes of it, beside those of [`Draft::so_far`]; `None`: as needed.
    pub minutes: Option<f64>,
}

/// A dough with gaps: what is `None` is planned.
///
/// # Examples
///
/// Water and the minutes at high speed are left to the plan:
///
/// ```
/// use kneadfit::charge::{Charge, Material};
/// use kneadfit::planning::Draft;
///
/// let charge = Charge::new(26.0).with(Material::Flour, 10.0, 21.0).with(Material::Salt, 0.2, 26.0);
/// let draft = Draft::new("tomorrow", charge, 6.6).mixing("low", 4.0).as_needed("high");
/// assert_eq!(draft.water_c, None);
/// assert_eq!(draft.phases[1].minutes, None);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Draft {
    /// The baker's name for the dough.
    pub id: Arc<str>,
    /// What is in the bowl beside the formula water (and its ice).
    pub charge: Charge,
    /// Formula water, the ice in it included, kg.
    pub water_kg: f64,
    /// Temperature of the water, °C; `None`: as needed.
    pub water_c: Option<f64>,
    /// Ice, part of the formula water, kg; `None`: as needed, none where `water_c` is given.
    pub ice_kg: Option<f64>,
    /// Temperature of the ice, °C.
    pub ice_c: f64,
    /// Mixing and rest in order; what lies ahead, where `so_far` has stages.
    pub phases: Vec<DraftPhase>,
    /// Phases that are over, with what was read after them. Water is in the bowl then:
    /// `water_c` is to be given.
    pub so_far: Vec<Stage>,
}

impl Draft {
    /// A dough of `charge` and `water_kg` of formula water at a temperature to be planned.
    pub fn new(id: impl Into<Arc<str>>, charge: Charge, water_kg: f64) -> Self {
        Self {
            id: id.into(),
            charge,
            water_kg,
            water_c: None,
            ice_kg: None,
            ice_c: USUAL_ICE_C,
            phases: Vec::new(),
            so_far: Vec::new(),
        }
    }

    /// A batch on its way: everything is in the bowl, its stages are over.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::batch::Batch;
    /// use kneadfit::charge::{Charge, Material, Phase};
    /// use kneadfit::planning::Draft;
    ///
    /// let charge = Charge::new(26.0).with(Material::Flour, 10.0, 21.0).with(Material::Water, 6.6, 9.0);
    /// let batch = Batch::new("7", charge, vec![Phase::mixing("low", 4.0)]).read_dough(18.5);
    /// let draft = Draft::on_the_way(batch).as_needed("high");
    /// assert_eq!(draft.so_far.len(), 1);
    /// ```
    pub fn on_the_way(batch: Batch) -> Self {
        Self { so_far: batch.stages, water_c: None, ..Self::new(batch.id, batch.charge, 0.0) }
    }

    /// The draft with water at a given temperature.
    #[must_use]
    pub fn with_water_at(mut self, water_c: f64) -> Self {
        self.water_c = Some(water_c);
        self
    }

    /// The draft with given minutes at a speed after the phases before.
    #[must_use]
    pub fn mixing(mut self, speed: impl Into<Arc<str>>, minutes: f64) -> Self {
        self.phases.push(DraftPhase { speed: speed.into(), minutes: Some(minutes) });
        self
    }

    /// The draft with as many minutes at a speed as it takes.
    #[must_use]
    pub fn as_needed(mut self, speed: impl Into<Arc<str>>) -> Self {
        self.phases.push(DraftPhase { speed: speed.into(), minutes: None });
        self
    }

    /// Whether the water is to be planned.
    /// Whether a dough on its way was last judged to be fully developed, which is enough.
    pub(super) fn is_developed(&self, wanted: &Wanted) -> bool {
        let graded = self.so_far.iter().rev().find_map(|s| s.reading.development);
        wanted.develop <= 1.0 && graded.is_some_and(|grade| grade >= 1.0)
    }

    pub(super) fn water_is_free(&self) -> bool {
        self.so_far.is_empty() && self.water_kg > 0.0 && self.water_c.is_none()
    }
}

/// Bounds of the minutes at one speed, over the whole batch.
#[derive(Clone, Debug, PartialEq)]
pub struct MinutesBounds {
    /// The speed's name, or [`crate::charge::REST`].
    pub speed: Arc<str>,
    /// Least minutes; `None`: the least that was logged.
    pub least: Option<f64>,
    /// Most minutes; `None`: the most that was logged, and more only where full
    /// development is not reached without.
    pub most: Option<f64>,
}

/// What is wanted of a dough, and within what.
///
/// # Examples
///
/// ```
/// use kneadfit::planning::Wanted;
///
/// let wanted = Wanted { cap_c: Some(27.0), ..Wanted::dough_at(24.0) };
/// assert_eq!(wanted.coldest_water_c, 4.0);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// Dough temperature at the end, °C; `None`: whatever it comes to.
    pub dough_c: Option<f64>,
    /// Development to be reached by minutes that are planned, in full developments.
    pub develop: f64,
    /// The dough must not pass this at any time of mixing, °C.
    pub cap_c: Option<f64>,
    /// The chance, 0 to 1, with which the cap is kept, and with which development does not
    /// stay behind [`Wanted::ENOUGH`] of what is wanted.
    pub chance: f64,
    /// Coldest water there is, °C.
    pub coldest_water_c: f64,
    /// Warmest water that may be poured, °C: the yeast's limit, not the tap's.
    pub warmest_water_c: f64,
    /// Most of the formula water that may be ice, 0 to 1.
    pub most_ice_share: f64,
    /// Most rest that may be planned, minutes.
    pub most_rest_min: f64,
    /// Bounds of minutes that are planned; speeds not named stay within what was logged.
    pub minutes: Vec<MinutesBounds>,
    /// Level of the intervals.
    pub level: f64,
    /// To what water, ice and minutes are rounded.
    pub rounding: Rounding,
}

impl Wanted {
    /// The grade, beside that of full development, that a dough must not stay behind.
    pub const ENOUGH: f64 = 0.93;

    /// A fully developed dough at `dough_c` °C.
    pub fn dough_at(dough_c: f64) -> Self {
        Self { dough_c: Some(dough_c), ..Self::default() }
    }
}

impl Default for Wanted {
    fn default() -> Self {
        Self {
            dough_c: None,
            develop: 1.0,
            cap_c: None,
            chance: 0.9,
            coldest_water_c: 4.0,
            warmest_water_c: 40.0,
            most_ice_share: 0.5,
            most_rest_min: 0.0,
            minutes: Vec::new(),
            level: 0.95,
            rounding: Rounding::default(),
        }
    }
}

/// Steps to which a plan is rounded, so that it can be weighed, set and poured. Minutes
/// and ice are rounded up, and the water makes up for it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rounding {
    /// Water temperature, K.
    pub water_k: f64,
    /// Ice, kg.
    pub ice_kg: f64,
    /// Minutes.
    pub minutes_min: f64,
}

impl Default for Rounding {
    /// A hundredth of a degree (which the dough cannot tell), a gram, a tenth of a minute.
    fn default() -> Self {
        Self { water_k: 0.01, ice_kg: 0.001, minutes_min: 0.1 }
    }
}
