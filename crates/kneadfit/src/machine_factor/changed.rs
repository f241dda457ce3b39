//! A dough changed in one thing.

use std::sync::Arc;

use crate::batch::Batch;
use crate::charge::{Material, Phase};

/// By how many minutes the last speed's are changed.
pub const CHANGED_MINUTES: f64 = 2.0;
/// By how many K the room is changed.
pub const CHANGED_ROOM_K: f64 = 8.0;

/// A change of a dough that the rule does not know of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// [`CHANGED_MINUTES`] more at the last speed at which it was mixed.
    MoreMinutes,
    /// [`CHANGED_MINUTES`] less at that speed.
    FewerMinutes,
    /// Half of every ingredient, in the same bowl.
    HalfCharge,
    /// A room warmer by [`CHANGED_ROOM_K`]. Salt, sugar, fat and a bowl whose temperature was
    /// not logged are as warm as the room and move with it; flour, water, preferment and a
    /// logged bowl stay.
    WarmerRoom,
    /// A room colder by as much.
    ColderRoom,
}

impl Change {
    /// Every change.
    pub const ALL: [Self; 5] = [
        Self::MoreMinutes,
        Self::FewerMinutes,
        Self::HalfCharge,
        Self::WarmerRoom,
        Self::ColderRoom,
    ];

    /// The batch with this change; `None` where it cannot be made: nothing was mixed, or for
    /// fewer minutes than would be taken away.
    pub fn of(self, batch: &Batch) -> Option<Batch> {
        let mut changed = batch.clone();
        match self {
            Self::MoreMinutes => last_mixing(&mut changed)?.minutes += CHANGED_MINUTES,
            Self::FewerMinutes => shorten(&mut changed)?,
            Self::HalfCharge => {
                for ingredient in &mut changed.charge.ingredients {
                    ingredient.mass_kg *= 0.5;
                }
            }
            Self::WarmerRoom => move_room(&mut changed, CHANGED_ROOM_K),
            Self::ColderRoom => move_room(&mut changed, -CHANGED_ROOM_K),
        }
        Some(changed)
    }
}

/// The last speed at which a batch was mixed; `None`: it was not.
pub(super) fn last_speed(batch: &Batch) -> Option<Arc<str>> {
    batch.phases().filter(|p| is_mixing(p)).last().map(|p| p.speed.clone())
}

fn is_mixing(phase: &Phase) -> bool {
    !phase.is_rest() && phase.minutes > 0.0
}

fn last_mixing(batch: &mut Batch) -> Option<&mut Phase> {
    batch.stages.iter_mut().rev().flat_map(|s| s.phases.iter_mut().rev()).find(|p| is_mixing(p))
}

/// Takes the minutes from the end: from the last phase at the last speed, and from those
/// before it where that is too short.
fn shorten(batch: &mut Batch) -> Option<()> {
    let speed = last_speed(batch)?;
    let mut left = CHANGED_MINUTES;
    for phase in batch.stages.iter_mut().rev().flat_map(|s| s.phases.iter_mut().rev()) {
        if phase.speed == speed {
            let taken = left.min(phase.minutes);
            phase.minutes -= taken;
            left -= taken;
        }
    }
    (left <= 0.0).then_some(())
}

fn move_room(batch: &mut Batch, by_k: f64) {
    batch.charge.room_c += by_k;
    for ingredient in &mut batch.charge.ingredients {
        if matches!(ingredient.material, Material::Salt | Material::Sugar | Material::Fat) {
            ingredient.temperature_c += by_k;
        }
    }
}
