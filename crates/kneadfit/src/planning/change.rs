//! A change of a dough or of its mixing, and the dough that it makes.

use super::request::{Draft, DraftPhase, Wanted};
use crate::charge::{Material, Phase, REST};

/// A change of a dough or of its mixing.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Change {
    /// Flour at this temperature, °C.
    FlourAt(f64),
    /// The whole charge times this.
    ChargeTimes(f64),
    /// A bowl at this temperature at the start, °C.
    BowlAt(f64),
    /// A rest of so many minutes at the end.
    Rest(f64),
    /// The same development by other minutes.
    Minutes(Vec<Phase>),
    /// So much of the formula water as ice, kg.
    IceKg(f64),
    /// Water at this temperature, °C; where it is planned, down to it.
    WaterAt(f64),
}

impl Change {
    /// The draft so changed, and what is wanted of it where the change allows more.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::charge::{Charge, Material};
    /// use kneadfit::planning::{Change, Draft, Wanted};
    ///
    /// let bowl = Charge::new(24.0).with(Material::Flour, 10.0, 21.0);
    /// let draft = Draft::new("tomorrow", bowl, 6.5).mixing("low", 12.0);
    /// let (cooler, _) = Change::FlourAt(8.0).of(&draft, &Wanted::dough_at(24.0));
    /// assert_eq!(cooler.charge.ingredients[0].temperature_c, 8.0);
    /// let (_, wanted) = Change::WaterAt(1.0).of(&draft, &Wanted::dough_at(24.0));
    /// assert_eq!(wanted.coldest_water_c, 1.0);
    /// ```
    pub fn of(&self, draft: &Draft, wanted: &Wanted) -> (Draft, Wanted) {
        let (mut draft, mut wanted) = (draft.clone(), wanted.clone());
        match self {
            Self::FlourAt(c) => draft
                .charge
                .ingredients
                .iter_mut()
                .filter(|i| matches!(i.material, Material::Flour))
                .for_each(|i| i.temperature_c = *c),
            Self::ChargeTimes(times) => {
                draft.charge.ingredients.iter_mut().for_each(|i| i.mass_kg *= times);
                draft.water_kg *= times;
                draft.ice_kg = draft.ice_kg.map(|kg| kg * times);
            }
            Self::BowlAt(c) => draft.charge.bowl_c = Some(*c),
            Self::Rest(minutes) => {
                draft.phases.push(DraftPhase { speed: REST.into(), minutes: Some(*minutes) });
            }
            Self::Minutes(phases) => {
                let given =
                    |p: &Phase| DraftPhase { speed: p.speed.clone(), minutes: Some(p.minutes) };
                draft.phases = phases.iter().map(given).collect();
            }
            Self::IceKg(kg) => draft.ice_kg = Some(*kg),
            Self::WaterAt(c) if draft.water_is_free() => {
                wanted.coldest_water_c = wanted.coldest_water_c.min(*c);
            }
            Self::WaterAt(c) => draft.water_c = Some(*c),
        }
        (draft, wanted)
    }
}
