//! What goes in and how it is mixed: ingredients, bowl, room, programme of phases.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The name of the phase in which the dough rests in the bowl, the mixer stopped.
pub const REST: &str = "rest";

/// No speed can be called so: `development_at_rest` is what rest gives.
pub const AT_REST: &str = "at_rest";

/// What an ingredient is made of, as far as heat and hydration go.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Material {
    /// Dry flour, wetted in this batch.
    Flour,
    /// Liquid water.
    Water,
    /// Ice, which melts in the dough; counts as water of the formula.
    Ice,
    /// A preferment or other dough made before: its flour is already wetted.
    Preferment {
        /// kg of water a kg of flour in it.
        hydration: f64,
    },
    /// Salt, dissolved in the dough.
    Salt,
    /// Sugar, dissolved in the dough.
    Sugar,
    /// Fat or oil.
    Fat,
    /// Anything else, by its specific heat; it neither wets nor dissolves.
    Other {
        /// Specific heat, kJ/(kg·K).
        specific_heat_kj_per_kg_k: f64,
    },
}

/// One ingredient of a batch: its material, mass and temperature.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Ingredient {
    /// What it is made of.
    pub material: Material,
    /// Mass, kg.
    pub mass_kg: f64,
    /// Temperature as it goes in, °C.
    pub temperature_c: f64,
}

/// Minutes at one speed, or of rest.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Phase {
    /// The speed's name on the machine, or [`REST`].
    pub speed: Arc<str>,
    /// How long, minutes.
    pub minutes: f64,
}

impl Phase {
    /// Minutes of mixing at a speed named as the machine's profile names it.
    ///
    /// # Examples
    ///
    /// ```
    /// let phase = kneadfit::charge::Phase::mixing("low", 4.0);
    /// assert_eq!((&*phase.speed, phase.minutes), ("low", 4.0));
    /// ```
    pub fn mixing(speed: impl Into<Arc<str>>, minutes: f64) -> Self {
        Self { speed: speed.into(), minutes }
    }

    /// Minutes of rest in the bowl.
    pub fn rest(minutes: f64) -> Self {
        Self { speed: REST.into(), minutes }
    }

    /// Whether the mixer stands still.
    pub fn is_rest(&self) -> bool {
        &*self.speed == REST
    }
}

/// Everything that is in the bowl before the mixer starts.
///
/// # Examples
///
/// Ten kilograms of flour at 21 °C with 6.5 kg of water at 12 °C in a room at 24 °C:
///
/// ```
/// use kneadfit::charge::{Charge, Material};
///
/// let charge = Charge::new(24.0)
///     .with(Material::Flour, 10.0, 21.0)
///     .with(Material::Water, 6.5, 12.0)
///     .with(Material::Salt, 0.2, 24.0);
/// assert_eq!(charge.mass_kg(), 16.7);
/// assert_eq!(charge.hydration(), Some(0.65));
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Charge {
    /// The ingredients in any order; one material may occur more than once.
    pub ingredients: Vec<Ingredient>,
    /// Room temperature, °C.
    pub room_c: f64,
    /// Temperature of bowl and tool at the start, °C; `None`: that of the room.
    pub bowl_c: Option<f64>,
    /// Name of the flour; `None`: not logged, taken as the machine's reference flour.
    pub flour_name: Option<Arc<str>>,
}

impl Charge {
    /// An empty bowl in a room at `room_c` °C.
    pub fn new(room_c: f64) -> Self {
        Self { ingredients: Vec::new(), room_c, bowl_c: None, flour_name: None }
    }

    /// The charge with one more ingredient: `mass_kg` of it at `temperature_c`.
    #[must_use]
    pub fn with(mut self, material: Material, mass_kg: f64, temperature_c: f64) -> Self {
        self.ingredients.push(Ingredient { material, mass_kg, temperature_c });
        self
    }

    /// The charge in a bowl at `bowl_c` °C.
    #[must_use]
    pub fn in_bowl_at(mut self, bowl_c: f64) -> Self {
        self.bowl_c = Some(bowl_c);
        self
    }

    /// The charge with its flour named.
    #[must_use]
    pub fn of_flour(mut self, name: impl Into<Arc<str>>) -> Self {
        self.flour_name = Some(name.into());
        self
    }

    /// Total mass of the dough, kg.
    pub fn mass_kg(&self) -> f64 {
        self.ingredients.iter().map(|i| i.mass_kg).sum()
    }

    /// Total mass of flour, kg: dry flour and the flour of preferments.
    pub fn flour_kg(&self) -> f64 {
        self.ingredients
            .iter()
            .map(|i| match i.material {
                Material::Flour => i.mass_kg,
                Material::Preferment { hydration } => i.mass_kg / (1.0 + hydration),
                _ => 0.0,
            })
            .sum()
    }

    /// Total mass of water, kg: liquid, ice and the water of preferments.
    pub fn water_kg(&self) -> f64 {
        self.ingredients
            .iter()
            .map(|i| match i.material {
                Material::Water | Material::Ice => i.mass_kg,
                Material::Preferment { hydration } => i.mass_kg * hydration / (1.0 + hydration),
                _ => 0.0,
            })
            .sum()
    }

    /// Hydration: kg of water of every source a kg of flour; `None` without flour.
    pub fn hydration(&self) -> Option<f64> {
        let flour_kg = self.flour_kg();
        (flour_kg > 0.0).then(|| self.water_kg() / flour_kg)
    }

    /// Total mass of one material, kg, whatever its details (a preferment of any hydration).
    pub fn mass_of_kg(&self, wanted: impl Fn(&Material) -> bool) -> f64 {
        self.ingredients.iter().filter(|i| wanted(&i.material)).map(|i| i.mass_kg).sum()
    }

    /// Mean temperature by mass of all that is of one kind, °C; `None` where there is none.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit::charge::{Charge, Material};
    ///
    /// let charge = Charge::new(24.0)
    ///     .with(Material::Flour, 9.0, 20.0)
    ///     .with(Material::Flour, 1.0, 10.0);
    /// assert_eq!(charge.mean_c(|m| matches!(m, Material::Flour)), Some(19.0));
    /// assert_eq!(charge.mean_c(|m| matches!(m, Material::Water)), None);
    /// ```
    pub fn mean_c(&self, wanted: impl Fn(&Material) -> bool) -> Option<f64> {
        let of = self.ingredients.iter().filter(|i| wanted(&i.material) && i.mass_kg > 0.0);
        let (mass, heat) =
            of.fold((0.0, 0.0), |(m, h), i| (m + i.mass_kg, h + i.mass_kg * i.temperature_c));
        (mass > 0.0).then(|| heat / mass)
    }
}
