//! The inverse use of a profile: water, ice and minutes for a wanted dough.
//!
//! A [`Draft`] is a dough with gaps, [`Wanted`] what it is to become, and [`Planner::plan`]
//! fills the gaps:
//!
//! - **water**: the temperature at which the dough ends where it is wanted;
//! - **ice**, part of the formula water, where water as cold as there is would not do;
//! - **minutes** at each speed that reach the development wanted with the least heat.
//!
//! # How
//!
//! Within a phase the heat balance is linear in the dough temperature, so that the end is a
//! straight line in the start, and the start one in the water's temperature and in the ice:
//! both follow in closed form. Development is an integral over the
//! same path, with analytic derivatives by every phase's minutes; the minutes are the
//! optimum under the bounds (see `minutes.rs`). The mean of the plan is that of
//! [`Forecaster`](crate::forecast::Forecaster), and so are its intervals.
//!
//! # Examples
//!
//! ```
//! use kneadfit::batch::{Batch, BatchLog};
//! use kneadfit::calibration::{Options, calibrate};
//! use kneadfit::charge::{Charge, Material, Phase};
//! use kneadfit::planning::{Draft, Planner, Verdict, Wanted};
//! use kneadfit::profile::{Profile, Provenance};
//!
//! let bowl = |room_c| Charge::new(room_c).with(Material::Flour, 10.0, 21.0);
//! let mix = |water_c, low| {
//!     let charge = bowl(24.0).with(Material::Water, 6.5, water_c);
//!     Batch::new("1", charge, vec![Phase::mixing("low", low)])
//! };
//! let log = BatchLog::new("spiral", ["low"], vec![
//!     mix(8.0, 10.0).read_dough(20.9).read_development(0.8),
//!     mix(12.0, 18.0).read_dough(26.1).read_development(0.95),
//! ])?;
//! let profile = Profile::new(&calibrate(&log, &Options::default())?, &Provenance::default());
//!
//! let planner = Planner::new(&profile)?;
//! let tomorrow = Draft::new("tomorrow", bowl(24.0), 6.5).mixing("low", 14.0);
//! let plan = planner.plan(&tomorrow, &Wanted::dough_at(24.0))?;
//! assert_eq!(plan.verdict, Verdict::Ok);
//! assert!((plan.forecast.dough_c - 24.0).abs() < 0.01);
//! assert!((8.0..14.0).contains(&plan.water_c.unwrap()));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod aim;
mod answer;
mod bounds;
mod change;
mod check;
mod compare;
mod error;
mod minutes;
mod path;
mod planner;
mod remedies;
mod request;
mod water;

pub use answer::{CheckPoint, Plan, Remedy, Short, Verdict};
pub use change::Change;
pub use compare::{CapKept, Comparison, Waypoint};
pub use error::PlanError;
pub use planner::Planner;
pub use request::{Draft, DraftPhase, MinutesBounds, Rounding, USUAL_ICE_C, Wanted};
