//! The formula water: what start temperature it gives, and what it takes for a wanted one.
//!
//! Everything else in the bowl holds `heat_kj` above 0 °C in a capacity of `C` (the water's
//! included, which is the same as ice once it has melted), so that
//!
//! ```text
//! C T₀ = heat + (W − i) c_w T_water − i (L + c_ice |T_ice|)
//! ```
//!
//! is a straight line in the water's temperature, and in the ice `i` of the formula water `W`.

use crate::units::PhysicalConstants;

/// What there is to pour.
#[derive(Clone, Copy, Debug)]
pub(super) struct Water {
    /// Heat of all else above 0 °C, kJ.
    pub heat_kj: f64,
    /// Heat capacity of all, the water included, kJ/K.
    pub capacity_kj_per_k: f64,
    /// W, kg.
    pub water_kg: f64,
    /// Temperature of the ice, °C.
    pub ice_c: f64,
    /// Coldest and warmest water, °C.
    pub water_c: (f64, f64),
    /// Least and most ice, kg.
    pub ice_kg: (f64, f64),
    pub constants: PhysicalConstants,
}

/// Water as it is poured, ice beside it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Poured {
    /// °C.
    pub water_c: f64,
    /// kg, part of the formula water.
    pub ice_kg: f64,
}

impl Water {
    /// Heat that a kilogram of ice takes to become water at 0 °C, kJ.
    fn ice_kj_per_kg(&self) -> f64 {
        self.constants.ice_latent_kj_per_kg + self.constants.ice_kj_per_kg_k * self.ice_c.abs()
    }

    /// Temperature once everything is wet, °C.
    pub fn start_c(&self, poured: Poured) -> f64 {
        let liquid_kg = self.water_kg - poured.ice_kg;
        (self.heat_kj + liquid_kg * self.constants.water_kj_per_kg_k * poured.water_c
            - poured.ice_kg * self.ice_kj_per_kg())
            / self.capacity_kj_per_k
    }

    /// The coldest and the warmest start, °C.
    pub fn start_range_c(&self) -> (f64, f64) {
        let at = |water_c, ice_kg| self.start_c(Poured { water_c, ice_kg });
        (at(self.water_c.0, self.ice_kg.1), at(self.water_c.1, self.ice_kg.0))
    }

    /// The water for a start at `start_c`: as it comes, and ice only where the coldest is
    /// too warm. The nearest where neither reaches.
    pub fn for_start(&self, start_c: f64) -> Poured {
        let short_kj = start_c * self.capacity_kj_per_k - self.heat_kj;
        let (least_kg, most_kg) = self.ice_kg;
        let water_c = self.water_for(short_kj, least_kg);
        if water_c >= self.water_c.0 {
            return Poured { water_c: water_c.min(self.water_c.1), ice_kg: least_kg };
        }
        // (W − i) c T − i l = short  →  i = (W c T − short) / (c T + l)
        let coldest_kj = self.constants.water_kj_per_kg_k * self.water_c.0;
        let ice_kg = (self.water_kg * coldest_kj - short_kj) / (coldest_kj + self.ice_kj_per_kg());
        Poured { water_c: self.water_c.0, ice_kg: ice_kg.clamp(least_kg, most_kg) }
    }

    /// The water for a start at `start_c` beside a given mass of ice, within what there is.
    pub fn beside_ice(&self, start_c: f64, ice_kg: f64) -> Poured {
        let short_kj = start_c * self.capacity_kj_per_k - self.heat_kj;
        let water_c = self.water_for(short_kj, ice_kg).clamp(self.water_c.0, self.water_c.1);
        Poured { water_c, ice_kg }
    }

    /// Unbounded temperature of the liquid part that brings `short_kj`, °C.
    fn water_for(&self, short_kj: f64, ice_kg: f64) -> f64 {
        let liquid_kg = self.water_kg - ice_kg;
        if liquid_kg <= 0.0 {
            return self.water_c.0;
        }
        (short_kj + ice_kg * self.ice_kj_per_kg()) / (liquid_kg * self.constants.water_kj_per_kg_k)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn water(ice_c: f64) -> Water {
        let constants = PhysicalConstants::default();
        let water_kg = 10.0;
        Water {
            heat_kj: 0.0,
            capacity_kj_per_k: water_kg * constants.water_kj_per_kg_k,
            water_kg,
            ice_c,
            water_c: (4.0, 40.0),
            ice_kg: (0.0, 5.0),
            constants,
        }
    }

    /// Outside value: the ice formula of the trade, `W (T_tap − T_want) / (T_tap + 80)`,
    /// for water alone; the printed ice table that it was checked on says 0.206 a unit of
    /// water for 80 °F to 40 °F.
    #[test]
    fn ice_for_water_alone_is_the_trades_formula() {
        let tap = Water { water_c: (26.67, 40.0), ..water(0.0) };
        let poured = tap.for_start(4.444);
        assert!((poured.ice_kg / 10.0 - 0.206).abs() < 0.005, "{poured:?}");
        let formula = (26.67 - 4.444) / (26.67 + 333.55 / 4.185);
        assert!((poured.ice_kg / 10.0 - formula).abs() < 1e-12);
    }

    #[test]
    fn what_is_poured_starts_where_it_was_asked_to() {
        for start_c in [-10.0, 0.0, 3.9, 4.0, 12.0, 39.0] {
            let poured = water(-6.0).for_start(start_c);
            assert!((water(-6.0).start_c(poured) - start_c).abs() < 1e-12, "{start_c} {poured:?}");
        }
    }

    #[test]
    fn beyond_what_there_is_the_nearest_is_poured() {
        assert_eq!(water(0.0).for_start(90.0), Poured { water_c: 40.0, ice_kg: 0.0 });
        assert_eq!(water(0.0).for_start(-90.0), Poured { water_c: 4.0, ice_kg: 5.0 });
    }
}
