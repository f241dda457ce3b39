//! Masses, temperatures and minutes as they are written on the command line: what is wrong
//! is answered with what was found and what to write.

use kneadfit::batch::limits;

use crate::values::{number, per_cent};

/// A mass with its temperature, where one is given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Portion {
    /// kg.
    pub mass_kg: f64,
    /// °C; `None`: not given.
    pub temperature_c: Option<f64>,
}

/// Minutes at one speed.
#[derive(Clone, Debug, PartialEq)]
pub struct Minutes {
    /// The speed's name.
    pub speed: String,
    /// min.
    pub minutes: f64,
}

/// A mass with its temperature or without, such as `6.6kg` or `6600g@12`.
pub fn portion(text: &str) -> Result<Portion, String> {
    let (mass_part, temperature) = match text.split_once('@') {
        Some((mass_part, temperature)) => (mass_part, Some(temperature)),
        None => (text, None),
    };
    let mass_kg = mass(mass_part)?;
    let temperature_c = temperature.map(|t| {
        degrees(t).map_err(|why| {
            format!("found {:?} behind the @, {why}; write {}@12", t.trim(), mass_part.trim())
        })
    });
    Ok(Portion { mass_kg, temperature_c: temperature_c.transpose()? })
}

/// A mass with its temperature, such as `10kg@21`.
pub fn tempered(text: &str) -> Result<Portion, String> {
    let portion = portion(text)?;
    match portion.temperature_c {
        Some(_) => Ok(portion),
        None => Err(format!(
            "found a mass alone, expected its temperature too; write {}@21 for 21 °C",
            text.trim()
        )),
    }
}

/// A mass of ice, with a temperature of 0 °C or below where one is given.
pub fn iced(text: &str) -> Result<Portion, String> {
    let portion = portion(text)?;
    match portion.temperature_c {
        Some(c) if c > 0.0 => {
            Err(format!("found ice at {c} °C, expected 0 °C or below; write 500g@-4"))
        }
        _ => Ok(portion),
    }
}

/// A mass in kg, such as `10kg` or `500g`.
pub fn mass(text: &str) -> Result<f64, String> {
    let text = text.trim();
    let split = text.find(|c: char| c.is_alphabetic() && !matches!(c, 'e' | 'E'));
    let (size, unit) = text.split_at(split.unwrap_or(text.len()));
    let size = size.trim();
    if size.is_empty() {
        return Err(format!("found {text:?}, expected a mass; write 10kg or 500g"));
    }
    let value = number(size)
        .map_err(|why| format!("found {size:?}, {why}; write {}", with_point(size, "10") + "kg"))?;
    let times = match unit.trim() {
        "kg" => 1.0,
        "g" => 1000.0,
        "" => {
            return Err(format!("found no unit behind {size}; write {size}kg or {size}g"));
        }
        other => {
            return Err(format!("found the unit {other:?}, expected kg or g; write 10kg or 500g"));
        }
    };
    let mass_kg = value / times;
    let (least, most) = limits::MASS_KG;
    if !(least..=most).contains(&mass_kg) {
        return Err(format!("found {value} {}, expected {least} to {most} kg", unit.trim()));
    }
    Ok(mass_kg)
}

/// What was written, with a point for its comma, or an example.
fn with_point(text: &str, example: &str) -> String {
    let mended = text.replacen(',', ".", 1);
    if mended.parse::<f64>().is_ok_and(f64::is_finite) { mended } else { example.to_owned() }
}

/// Minutes at a speed, such as `low=4`.
pub fn speed_minutes(text: &str) -> Result<Minutes, String> {
    let Some((speed, minutes)) = text.rsplit_once('=') else {
        return Err(format!(
            "found {text:?}, expected a speed and its minutes; write {}=4",
            if text.trim().is_empty() { "low" } else { text.trim() }
        ));
    };
    let speed = speed.trim();
    if speed.is_empty() {
        return Err(format!("found no speed before the =; write low={}", minutes.trim()));
    }
    let value = number(minutes.trim()).map_err(|why| {
        format!("found {:?} behind the =, {why}; write {speed}=4", minutes.trim())
    })?;
    let (least, most) = limits::MINUTES;
    if !(least..=most).contains(&value) {
        return Err(format!("found {value} minutes, expected {least} to {most}"));
    }
    Ok(Minutes { speed: speed.to_owned(), minutes: value })
}

/// A temperature in °C of something in a kitchen.
pub fn degrees(text: &str) -> Result<f64, String> {
    celsius(text, limits::TEMPERATURE_C)
}

/// A temperature that a dough may have, °C.
pub fn dough_temperature(text: &str) -> Result<f64, String> {
    // As the reader of logs takes them.
    celsius(text, (-5.0, 60.0))
}

/// A temperature of water that is poured on flour, °C.
pub fn water_temperature(text: &str) -> Result<f64, String> {
    celsius(text, (0.0, 60.0))
}

/// A temperature of ice, °C.
pub fn ice_temperature(text: &str) -> Result<f64, String> {
    celsius(text, (limits::TEMPERATURE_C.0, 0.0))
}

fn celsius(text: &str, (least, most): (f64, f64)) -> Result<f64, String> {
    let value = number(text.trim()).map_err(|why| format!("{why} of °C"))?;
    if (least..=most).contains(&value) {
        return Ok(value);
    }
    let from_f = kneadfit::units::celsius_from_fahrenheit(value);
    let hint = if (0.0..=most.min(60.0)).contains(&from_f) {
        format!("; {value} °F is written {from_f:.1}")
    } else {
        String::new()
    };
    Err(format!("expected {least} to {most} °C{hint}"))
}

/// A dose of development.
pub fn development(text: &str) -> Result<f64, String> {
    part(text, (0.0, 5.0), "full developments")
}

/// A chance that can be asked for.
pub fn chance(text: &str) -> Result<f64, String> {
    part(text, (0.5, 0.999), "")
}

/// A part of a whole.
pub fn share(text: &str) -> Result<f64, String> {
    part(text, (0.0, 1.0), "")
}

fn part(text: &str, (least, most): (f64, f64), of: &str) -> Result<f64, String> {
    let value = number(text.trim())?;
    if (least..=most).contains(&value) {
        return Ok(value);
    }
    let hint = per_cent(value, 2.0, (least, most));
    let of = if of.is_empty() { String::new() } else { format!(" {of}") };
    Err(format!("expected {least} to {most}{of}{hint}"))
}

/// Minutes of rest.
pub fn rest(text: &str) -> Result<f64, String> {
    within(text, limits::MINUTES, "minutes")
}

/// kg of water a kg of flour in a preferment.
pub fn hydration(text: &str) -> Result<f64, String> {
    within(text, limits::HYDRATION, "kg of water a kg of flour")
}

fn within(text: &str, (least, most): (f64, f64), unit: &str) -> Result<f64, String> {
    let value = number(text.trim())?;
    if (least..=most).contains(&value) {
        return Ok(value);
    }
    Err(format!("expected {least} to {most} {unit}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn masses_are_in_kg_or_g() {
        assert_eq!(mass("10kg"), Ok(10.0));
        assert_eq!(mass(" 500 g "), Ok(0.5));
        assert_eq!(mass("1e1kg"), Ok(10.0));
        for (written, said) in [
            ("10", "write 10kg or 10g"),
            ("10lb", "expected kg or g"),
            ("kg", "write 10kg or 500g"),
            ("", "write 10kg or 500g"),
            ("10,5kg", "write 10.5kg"),
            ("-1kg", "expected 0 to"),
            ("1e9kg", "expected 0 to"),
            ("infkg", "expected a mass"),
        ] {
            let error = mass(written).unwrap_err();
            assert!(error.contains(said), "{written}: {error}");
        }
    }

    #[test]
    fn a_portion_has_its_temperature_behind_an_at() {
        assert_eq!(portion("6.6kg"), Ok(Portion { mass_kg: 6.6, temperature_c: None }));
        assert_eq!(tempered("500g@-4"), Ok(Portion { mass_kg: 0.5, temperature_c: Some(-4.0) }));
        assert!(tempered("10kg").unwrap_err().contains("write 10kg@21"));
        for written in ["10kg@", "10kg@warm", "10kg@21@3", "10kg@nan"] {
            let error = tempered(written).unwrap_err();
            assert!(error.contains("behind the @") && error.contains("write 10kg@12"), "{error}");
        }
        assert!(tempered("10kg@700").unwrap_err().contains("expected -60 to 150 °C"));
        assert!(iced("500g@4").unwrap_err().contains("0 °C or below"));
    }

    #[test]
    fn minutes_stand_behind_their_speed() {
        assert_eq!(speed_minutes("low=4").unwrap().minutes, 4.0);
        assert_eq!(speed_minutes("a=b=1.5").unwrap().speed, "a=b");
        for (written, said) in [
            ("low", "write low=4"),
            ("", "write low=4"),
            ("=4", "no speed before"),
            ("low=", "write low=4"),
            ("low=four", "write low=4"),
            ("low=-1", "expected 0 to"),
        ] {
            let error = speed_minutes(written).unwrap_err();
            assert!(error.contains(said), "{written}: {error}");
        }
    }

    #[test]
    fn other_units_are_recognised() {
        assert!(dough_temperature("75").unwrap_err().contains("75 °F is written 23.9"));
        assert!(share("50").unwrap_err().contains("written 0.5"));
        assert!(chance("90").unwrap_err().contains("written 0.9"));
        assert!(ice_temperature("4").is_err() && water_temperature("-2").is_err());
        assert!(hydration("-1").is_err() && rest("nan").is_err() && development("6").is_err());
    }
}
