//! Whether a batch has the heat to melt its ice.

use kneadfit::charge::{Charge, Material};
use kneadfit::units::PhysicalConstants;

/// Heat of wetting of flour, kJ/kg: the middle of the model's prior.
const WETTING_KJ_PER_KG: f64 = 15.1;

/// The heat in kJ that a charge lacks to melt its ice; `None` when it has enough.
///
/// ```text
/// Σ m c T + h m_flour − h_salt m_salt − h_sugar m_sugar < m_ice (L + c_ice |T_ice|)
/// ```
///
/// All that is not ice is cooled to 0 °C; friction and bowl are left out.
pub(crate) fn short_of_melting_kj(charge: &Charge, constants: &PhysicalConstants) -> Option<f64> {
    let mut taken_kj = 0.0;
    let mut given_kj = 0.0;
    for ingredient in &charge.ingredients {
        let (m, t) = (ingredient.mass_kg, ingredient.temperature_c);
        given_kj += m * match ingredient.material {
            Material::Ice => {
                taken_kj +=
                    m * (constants.ice_latent_kj_per_kg + constants.ice_kj_per_kg_k * t.abs());
                0.0
            }
            Material::Flour => constants.flour_kj_per_kg_k * t + WETTING_KJ_PER_KG,
            Material::Water => constants.water_kj_per_kg_k * t,
            Material::Preferment { hydration } => constants.dough_kj_per_kg_k(hydration) * t,
            Material::Salt => constants.salt_kj_per_kg_k * t - constants.salt_solution_kj_per_kg,
            Material::Sugar => constants.sugar_kj_per_kg_k * t - constants.sugar_solution_kj_per_kg,
            Material::Fat => constants.fat_kj_per_kg_k * t,
            Material::Other { specific_heat_kj_per_kg_k } => specific_heat_kj_per_kg_k * t,
            // A material that this function does not know gives no heat that it could count.
            _ => 0.0,
        };
    }
    (taken_kj > given_kj).then_some(taken_kj - given_kj)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 10 kg of flour at 20 °C hold 368 kJ and give 151 kJ of wetting: 519 kJ melt
    /// 1.556 kg of ice at 0 °C.
    #[test]
    fn the_limit_is_where_the_balance_stands() {
        let constants = PhysicalConstants::default();
        let with_ice = |kg: f64| {
            Charge::new(20.0).with(Material::Flour, 10.0, 20.0).with(Material::Ice, kg, 0.0)
        };
        assert_eq!(short_of_melting_kj(&with_ice(1.55), &constants), None);
        let short = short_of_melting_kj(&with_ice(2.0), &constants).unwrap();
        assert!((short - (2.0 * 333.55 - 519.0)).abs() < 1e-9, "{short}");
    }
}
