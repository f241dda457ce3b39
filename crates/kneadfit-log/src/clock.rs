//! Minutes as they are read off a clock: `4:30`, `0:04:30`, `4'30`.

/// The minutes of a time written with colons or marks; `None`: it is not so written.
///
/// Two parts are minutes and seconds, three are hours, minutes and seconds. Seconds have two
/// digits, so that `4:5` is not taken for one of two times.
pub(crate) fn read_minutes(text: &str) -> Option<f64> {
    let text = text.trim_matches(crate::names::is_blank);
    if text.len() > 24 {
        return None;
    }
    if text.contains(':') {
        return colons(text);
    }
    marks(text)
}

fn colons(text: &str) -> Option<f64> {
    // A spreadsheet that shows parts of a day as times of the day begins at 12:00:00 AM.
    if let Some(time) = ["AM", "am", "a.m."].iter().find_map(|half| text.strip_suffix(half)) {
        let time = time.trim_end_matches(crate::names::is_blank);
        let (hour, rest) = time.split_once(':')?;
        let hour = if hour == "12" { "0" } else { hour };
        return rest.contains(':').then(|| colons(&format!("{hour}:{rest}")))?;
    }
    let parts: Vec<&str> = text.split(':').collect();
    let (hours, minutes, seconds) = match parts.as_slice() {
        [minutes, seconds] => (0.0, whole(minutes)?, seconds),
        [hours, minutes, seconds] => {
            let minutes = whole(minutes).filter(|m| *m < 60.0 && minutes.len() == 2)?;
            (whole(hours)?, minutes, seconds)
        }
        _ => return None,
    };
    Some(in_minutes(hours, minutes, sixtieths(seconds)?))
}

fn marks(text: &str) -> Option<f64> {
    let (minutes, rest) = text.split_once(['\'', '′', '’', '‘'])?;
    let rest = rest.trim_start();
    let seconds = ["\"", "″", "”", "''", "′′", "’’"]
        .into_iter()
        .find_map(|mark| rest.strip_suffix(mark))
        .unwrap_or(rest);
    let seconds = if rest.is_empty() { 0.0 } else { sixtieths(seconds)? };
    Some(in_minutes(0.0, whole(minutes)?, seconds))
}

/// One division, so that what has an exact number of minutes is exact.
fn in_minutes(hours: f64, minutes: f64, seconds: f64) -> f64 {
    (hours * 3600.0 + minutes * 60.0 + seconds) / 60.0
}

/// A whole number of a few digits.
fn whole(text: &str) -> Option<f64> {
    let short = !text.is_empty() && text.len() <= 5;
    (short && text.bytes().all(|b| b.is_ascii_digit())).then(|| text.parse().ok())?
}

/// Two digits under sixty, decimals behind them or not.
fn sixtieths(text: &str) -> Option<f64> {
    let (digits, decimals) = match text.split_once(['.', ',']) {
        Some((digits, decimals)) => (digits, decimals),
        None => (text, "0"),
    };
    if digits.len() != 2 || decimals.is_empty() || decimals.len() > 6 {
        return None;
    }
    let only_digits = digits.bytes().chain(decimals.bytes()).all(|b| b.is_ascii_digit());
    let value: f64 = only_digits.then(|| format!("{digits}.{decimals}").parse().ok())??;
    (value < 60.0).then_some(value)
}

/// A part of a day as hours, minutes and seconds, to the millisecond.
pub(crate) fn day_part_as_text(days: f64) -> Option<String> {
    const MOST_DAYS: f64 = 10_000.0;
    if !(0.0..MOST_DAYS).contains(&days) {
        return None;
    }
    let milliseconds = (days * 86_400_000.0).round() as u64;
    let (seconds, rest) = (milliseconds / 1000, milliseconds % 1000);
    let text = format!("{}:{:02}:{:02}", seconds / 3600, seconds / 60 % 60, seconds % 60);
    Some(if rest == 0 { text } else { format!("{text}.{rest:03}") })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_of_every_form_are_minutes() {
        for (text, minutes) in [
            ("4:30", 4.5),
            ("0:04:30", 4.5),
            ("00:04:30", 4.5),
            ("1:00:00", 60.0),
            ("75:00", 75.0),
            ("12:04:30 AM", 4.5),
            ("1:15:00 AM", 75.0),
            ("4:30,5", 4.508_333_333_333_334),
            ("4'30", 4.5),
            ("4'30\"", 4.5),
            ("4′30″", 4.5),
            ("4’ 30’’", 4.5),
            ("4'", 4.0),
            ("12'05", 12.0 + 5.0 / 60.0),
        ] {
            let read = read_minutes(text).unwrap_or_else(|| panic!("{text} is not read"));
            assert!((read - minutes).abs() < 1e-12, "{text}: {read}");
        }
    }

    #[test]
    fn what_could_be_another_time_is_none() {
        for text in [
            "4:5",
            "12:30 AM",
            "1:00:00 PM",
            "4:60",
            "4:30:5",
            "1:4:30",
            ":30",
            "4:",
            "4'5",
            "4'60",
            "'30",
            "-4:30",
            "4",
            "",
            "1:2:3:4",
        ] {
            assert_eq!(read_minutes(text), None, "{text}");
        }
    }

    #[test]
    fn a_part_of_a_day_is_said_to_the_second() {
        assert_eq!(day_part_as_text(4.5 / 1440.0).unwrap(), "0:04:30");
        assert_eq!(day_part_as_text(0.5).unwrap(), "12:00:00");
        assert_eq!(day_part_as_text(1.25 / 86_400.0).unwrap(), "0:00:01.250");
        assert_eq!(day_part_as_text(-0.1), None);
        assert_eq!(day_part_as_text(f64::NAN), None);
        let text = day_part_as_text(7.25 / 1440.0).unwrap();
        assert_eq!(read_minutes(&text), Some(7.25));
    }
}
