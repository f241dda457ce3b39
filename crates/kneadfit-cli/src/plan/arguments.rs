//! What may be said to `kneadfit plan`.

use std::path::PathBuf;
use std::sync::Arc;

use anyhow::bail;
use clap::Args;
use kneadfit::planning::{MinutesBounds, USUAL_ICE_C, Wanted};

use super::quantities::{
    Minutes, Portion, chance, degrees, development, dough_temperature, hydration, ice_temperature,
    iced, mass, portion, rest, share, speed_minutes, tempered, water_temperature,
};
use crate::reading::ReadingArguments;
use crate::values::level;

#[derive(Args, Debug)]
pub struct PlanArguments {
    /// A profile that `fit` wrote
    pub profile: PathBuf,
    /// The doughs to plan in the log's columns, blank where something is wanted: `water_c`,
    /// `ice_kg`, minutes; - is standard input
    #[arg(value_name = "BATCHES", conflicts_with = "flour")]
    pub batches: Option<PathBuf>,
    /// Which part of the next readings the intervals are to hold
    #[arg(
        long, value_name = "LEVEL", value_parser = level, allow_negative_numbers = true,
        default_value = "0.95"
    )]
    pub level: f64,
    /// Print JSON for a program, numbers in full
    #[arg(long)]
    pub json: bool,
    /// Write a page to print for each dough into this folder; it is made where it does not exist
    #[arg(long, value_name = "DIR")]
    pub card: Option<PathBuf>,
    #[command(flatten)]
    pub wishes: WishArguments,
    #[command(flatten)]
    pub dough: DoughArguments,
    #[command(flatten)]
    pub reading: ReadingArguments,
}

#[derive(Args, Clone, Debug)]
#[command(next_help_heading = "What is wanted, and within what")]
pub struct WishArguments {
    /// Dough temperature at the end, °C; needed where water is planned
    #[arg(long, value_name = "C", value_parser = dough_temperature, allow_negative_numbers = true)]
    pub dough_c: Option<f64>,
    /// Development to reach, in full developments
    #[arg(
        long, value_name = "DOSE", value_parser = development, allow_negative_numbers = true,
        default_value = "1"
    )]
    pub develop: f64,
    /// Temperature that the dough must not pass while it is mixed, °C
    #[arg(long, value_name = "C", value_parser = dough_temperature, allow_negative_numbers = true)]
    pub cap_c: Option<f64>,
    /// Chance with which the cap is kept, and development does not stay behind
    #[arg(
        long, value_name = "CHANCE", value_parser = chance, allow_negative_numbers = true,
        default_value = "0.9"
    )]
    pub chance: f64,
    /// Coldest water there is, °C
    #[arg(
        long, value_name = "C", value_parser = water_temperature, allow_negative_numbers = true,
        default_value = "4"
    )]
    pub coldest_water_c: f64,
    /// Warmest water that may be poured, °C: yeast suffers in warmer water, whatever the tap gives
    #[arg(
        long, value_name = "C", value_parser = water_temperature, allow_negative_numbers = true,
        default_value = "40"
    )]
    pub warmest_water_c: f64,
    /// Most of the formula water that may be ice, 0 to 1
    #[arg(
        long, value_name = "SHARE", value_parser = share, allow_negative_numbers = true,
        default_value = "0.5"
    )]
    pub most_ice_share: f64,
    /// Temperature of ice of which the file says none, °C [default: -4]
    #[arg(long, value_name = "C", value_parser = ice_temperature, allow_negative_numbers = true)]
    pub ice_c: Option<f64>,
    /// Least minutes where minutes are planned; left away: the least that was logged
    #[arg(long, value_name = "SPEED=MIN", value_parser = speed_minutes, value_delimiter = ',')]
    pub least_minutes: Vec<Minutes>,
    /// Most minutes where minutes are planned; left away: the most that was logged, and more
    /// only where full development needs it
    #[arg(long, value_name = "SPEED=MIN", value_parser = speed_minutes, value_delimiter = ',')]
    pub most_minutes: Vec<Minutes>,
    /// Most rest that may be planned, minutes
    #[arg(
        long, value_name = "MIN", value_parser = rest, allow_negative_numbers = true,
        default_value = "0"
    )]
    pub most_rest: f64,
}

#[derive(Args, Debug)]
#[command(next_help_heading = "One dough, instead of a file (masses as 10kg or 500g)")]
pub struct DoughArguments {
    /// Flour and its temperature in °C, as 10kg@21
    #[arg(long, value_name = "MASS@C", value_parser = tempered, allow_hyphen_values = true, requires = "room")]
    pub flour: Option<Portion>,
    /// Formula water with its ice, as 6.6kg; with a temperature, as 6.6kg@12, it is given
    #[arg(long, value_name = "MASS[@C]", value_parser = portion, allow_hyphen_values = true, requires = "flour")]
    pub water: Option<Portion>,
    /// Ice that is part of the water, as 500g or 500g@-4; left away: as needed
    #[arg(long, value_name = "MASS[@C]", value_parser = iced, allow_hyphen_values = true, requires = "water")]
    pub ice: Option<Portion>,
    /// Salt
    #[arg(long, value_name = "MASS", value_parser = mass, allow_hyphen_values = true, requires = "flour")]
    pub salt: Option<f64>,
    /// Sugar
    #[arg(long, value_name = "MASS", value_parser = mass, allow_hyphen_values = true, requires = "flour")]
    pub sugar: Option<f64>,
    /// Fat or oil
    #[arg(long, value_name = "MASS", value_parser = mass, allow_hyphen_values = true, requires = "flour")]
    pub fat: Option<f64>,
    /// Preferment and its temperature in °C, as 2kg@18
    #[arg(long, value_name = "MASS@C", value_parser = tempered, allow_hyphen_values = true, requires = "flour")]
    pub preferment: Option<Portion>,
    /// kg of water a kg of flour in the preferment; left away: 1
    #[arg(
        long, value_name = "RATIO", value_parser = hydration, allow_negative_numbers = true,
        requires = "preferment"
    )]
    pub preferment_hydration: Option<f64>,
    /// Temperature of the room, °C
    #[arg(
        long, value_name = "C", value_parser = degrees, allow_negative_numbers = true,
        requires = "flour"
    )]
    pub room: Option<f64>,
    /// Temperature of the bowl, °C; left away: that of the room
    #[arg(
        long, value_name = "C", value_parser = degrees, allow_negative_numbers = true,
        requires = "flour"
    )]
    pub bowl: Option<f64>,
    /// Name of the flour, as in the log; left away: the machine's reference flour
    #[arg(long, value_name = "NAME", requires = "flour")]
    pub flour_name: Option<String>,
    /// Minutes that are given, as low=4,high=8; speeds not named are planned
    #[arg(
        long, value_name = "SPEED=MIN", value_parser = speed_minutes, value_delimiter = ',',
        requires = "flour"
    )]
    pub minutes: Vec<Minutes>,
}

impl WishArguments {
    /// The same wishes for a machine with these speeds: bounds of other machines' speeds are
    /// not of it.
    pub fn of_speeds(&self, speeds: &[Arc<str>]) -> Self {
        let known = |given: &Vec<Minutes>| {
            given
                .iter()
                .filter(|m| {
                    m.speed == kneadfit::charge::REST || speeds.iter().any(|s| **s == *m.speed)
                })
                .cloned()
                .collect()
        };
        Self {
            least_minutes: known(&self.least_minutes),
            most_minutes: known(&self.most_minutes),
            ..self.clone()
        }
    }

    /// Temperature of ice of which nothing is said, °C.
    pub fn usual_ice_c(&self) -> f64 {
        self.ice_c.unwrap_or(USUAL_ICE_C)
    }

    /// The wishes for the planner, which must not contradict each other.
    pub fn wanted(&self, level: f64, speeds: &[Arc<str>]) -> anyhow::Result<Wanted> {
        let (coldest, warmest) = (self.coldest_water_c, self.warmest_water_c);
        if coldest > warmest {
            bail!(
                "--coldest-water-c {coldest} and --warmest-water-c {warmest} contradict each \
                 other: the coldest must not be warmer than the warmest"
            );
        }
        Ok(Wanted {
            dough_c: self.dough_c,
            develop: self.develop,
            cap_c: self.cap_c,
            chance: self.chance,
            coldest_water_c: coldest,
            warmest_water_c: warmest,
            most_ice_share: self.most_ice_share,
            most_rest_min: self.most_rest,
            minutes: self.bounds(speeds)?,
            level,
            ..Wanted::default()
        })
    }

    fn bounds(&self, speeds: &[Arc<str>]) -> anyhow::Result<Vec<MinutesBounds>> {
        known("--least-minutes", &self.least_minutes, speeds)?;
        known("--most-minutes", &self.most_minutes, speeds)?;
        let mut bounds: Vec<MinutesBounds> = Vec::new();
        let mut of = |speed: &str, set: &dyn Fn(&mut MinutesBounds)| match bounds
            .iter_mut()
            .find(|b| *b.speed == *speed)
        {
            Some(bound) => set(bound),
            None => {
                let mut bound = MinutesBounds { speed: speed.into(), least: None, most: None };
                set(&mut bound);
                bounds.push(bound);
            }
        };
        for Minutes { speed, minutes } in &self.least_minutes {
            of(speed, &|bound| bound.least = Some(*minutes));
        }
        for Minutes { speed, minutes } in &self.most_minutes {
            of(speed, &|bound| bound.most = Some(*minutes));
        }
        for bound in &bounds {
            if let (Some(least), Some(most)) = (bound.least, bound.most)
                && least > most
            {
                let speed = &bound.speed;
                bail!(
                    "--least-minutes {speed}={least} and --most-minutes {speed}={most} \
                     contradict each other: the least must not be more than the most"
                );
            }
        }
        Ok(bounds)
    }
}

/// Refuses a speed that the machine does not have, and one that is named twice.
pub fn known(option: &str, given: &[Minutes], speeds: &[Arc<str>]) -> anyhow::Result<()> {
    for (index, Minutes { speed, minutes }) in given.iter().enumerate() {
        if speed != kneadfit::charge::REST && !speeds.iter().any(|s| **s == **speed) {
            bail!(
                "{option} {speed}={minutes}: the machine has no speed {speed:?}; write one of {}",
                speeds.join(", ")
            );
        }
        if given[..index].iter().any(|other| other.speed == *speed) {
            bail!("{option}: {speed} is named twice; write each speed once");
        }
    }
    Ok(())
}
