//! Dates and times with a zone: ISO 8601 without the T, the zone stated once for a document.

use jiff::civil;
use jiff::tz::{AmbiguousOffset, Offset, TimeZone};

/// A document's time zone.
#[derive(Clone, Debug)]
pub struct Zone(TimeZone);

/// A written date or time: the span of seconds since 1970-01-01 00:00 UTC that it may mean, and its day.
///
/// A date without a time covers its whole day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct When {
    /// First second it may mean.
    pub earliest: i64,
    /// Last second it may mean.
    pub latest: i64,
    /// The civil day in the document's zone, in days since 1970-01-01.
    pub day: i32,
}

/// A written time as it was read: what it may mean, and what is doubtful about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Told {
    /// The span that it may mean. A time of a repeated hour without offset covers both.
    pub when: When,
    /// Why it is not plain what is meant; `None` as a rule.
    pub doubt: Option<Doubt>,
}

/// Why a civil time does not say which instant is meant.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Doubt {
    /// The clock was set back over it, so it was shown twice.
    Repeated {
        /// Its first second where the clock had not been set back yet, and the offset then.
        first: (i64, String),
        /// Its first second after that, and the offset then.
        second: (i64, String),
    },
    /// The clock was set forward over it, so it was never shown: the offsets before and after.
    Skipped(String, String),
    /// The offset written is none that the zone has at that time: as written, and the zone's own.
    OtherOffset(String, String),
}

impl Zone {
    /// Coordinated universal time.
    pub fn utc() -> Zone {
        Zone(TimeZone::UTC)
    }

    /// Reads `Europe/Vienna` or `+01:00`. The error says what is wrong.
    pub fn parse(text: &str) -> Result<Zone, String> {
        let text = text.trim();
        if let Some(sign) = text
            .strip_prefix(['+', '-', '−'])
            .map(|_| if text.starts_with('+') { 1 } else { -1 })
        {
            return match offset(sign, text.trim_start_matches(['+', '-', '−'])) {
                Some(offset) => Ok(Zone(TimeZone::fixed(offset))),
                None => Err(format!(
                    "expected an offset from UTC of at most 14 hours such as +01:00, found `{text}`"
                )),
            };
        }
        TimeZone::get(text).map(Zone).map_err(|_| {
            format!("expected a time zone of the IANA list such as Europe/Vienna, found `{text}`")
        })
    }

    /// The civil day on which an instant, in seconds since 1970-01-01 00:00 UTC, falls in this zone, in days
    /// since 1970-01-01.
    pub fn day_of(&self, seconds: i64) -> Option<i32> {
        let timestamp = jiff::Timestamp::from_second(seconds).ok()?;
        Some(day_number(self.0.to_datetime(timestamp).date()))
    }

    /// The instant that a civil time without an offset means, and what is doubtful about it.
    fn instant(&self, time: civil::DateTime) -> Option<(i64, Option<Doubt>)> {
        let seconds = self.seconds(time)?;
        let doubt = match self.0.to_ambiguous_timestamp(time).offset() {
            AmbiguousOffset::Unambiguous { .. } => None,
            AmbiguousOffset::Gap { before, after } => {
                Some(Doubt::Skipped(offset_text(before), offset_text(after)))
            }
            AmbiguousOffset::Fold { before, after } => Some(Doubt::Repeated {
                first: (at_offset(time, before)?, offset_text(before)),
                second: (at_offset(time, after)?, offset_text(after)),
            }),
        };
        Some((seconds, doubt))
    }

    /// The instant of a civil time with its offset, and whether the zone has that offset then. Both offsets
    /// of a repeated or skipped hour fit.
    fn instant_with(&self, time: civil::DateTime, offset: Offset) -> Option<(i64, Option<Doubt>)> {
        let own = match self.0.to_ambiguous_timestamp(time).offset() {
            AmbiguousOffset::Unambiguous { offset } => [offset, offset],
            AmbiguousOffset::Gap { before, after } | AmbiguousOffset::Fold { before, after } => {
                [before, after]
            }
        };
        let doubt = (!own.contains(&offset)).then(|| {
            let [before, after] = own.map(offset_text);
            let known = if before == after {
                before
            } else {
                format!("{before} or {after}")
            };
            Doubt::OtherOffset(offset_text(offset), known)
        });
        Some((at_offset(time, offset)?, doubt))
    }

    /// Seconds since 1970-01-01 00:00 UTC of a civil time in this zone; in a repeated hour the earlier
    /// one, in a skipped hour the time after it.
    fn seconds(&self, time: civil::DateTime) -> Option<i64> {
        self.0
            .to_ambiguous_zoned_datetime(time)
            .compatible()
            .ok()
            .map(|zoned| zoned.timestamp().as_second())
    }
}

/// Reads `2026-03-02` as days since 1970-01-01. The error says what is wrong.
pub fn parse_day(text: &str) -> Result<i32, String> {
    Ok(day_number(civil_date(text)?))
}

/// Reads `2026-03-02`, `2026-03-02 10:15` or `2026-03-02 10:15:30` in a zone, behind a time also its offset
/// from UTC, `+01:00` or, as log files have it, `Z` (ISO 8601-1:2019, 4.3.13). The error says what is wrong.
pub fn parse_when(text: &str, zone: &Zone) -> Result<Told, String> {
    let text = text.trim();
    let (date_text, rest) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
    let rest = rest.trim_start();
    let date = civil_date(date_text)?;
    let day = day_number(date);
    let (time_text, offset_text) = match rest.find(['+', '-', '−', 'Z']) {
        Some(at) => rest.split_at(at),
        None => (rest, ""),
    };
    let time_text = time_text.trim();
    let outside = || format!("expected a date between the years 1 and 9999, found `{text}`");
    if rest.is_empty() {
        let (midnight, evening) = (date.at(0, 0, 0, 0), date.at(23, 59, 59, 0));
        let earliest = zone.seconds(midnight).ok_or_else(outside)?;
        // A day whose last hour is repeated ends with the second one.
        let latest = match zone.instant(evening).ok_or_else(outside)? {
            (_, Some(Doubt::Repeated { second, .. })) => second.0,
            (evening, _) => evening,
        };
        let when = When {
            earliest,
            latest,
            day,
        };
        return Ok(Told { when, doubt: None });
    }
    let (hour, minute, second) = clock(time_text)?;
    let length = if time_text.matches(':').count() == 2 {
        0
    } else {
        59
    };
    let time = date.at(hour, minute, second, 0);
    let (start, doubt) = match offset_text.trim() {
        "" => zone.instant(time).ok_or_else(outside)?,
        // The letter says UTC and nothing of the local offset, so there is none to hold against the zone.
        "Z" => (at_offset(time, Offset::UTC).ok_or_else(outside)?, None),
        written => {
            let sign = if written.starts_with('+') { 1 } else { -1 };
            let digits = written.trim_start_matches(['+', '-', '−']);
            let offset = offset(sign, digits).ok_or_else(|| {
                format!("expected an offset from UTC of at most 14 hours such as +01:00, found `{written}`")
            })?;
            zone.instant_with(time, offset).ok_or_else(outside)?
        }
    };
    let end = match &doubt {
        Some(Doubt::Repeated { second, .. }) => second.0,
        _ => start,
    };
    let day = match offset_text.trim() {
        "" => day,
        _ => zone.day_of(start).unwrap_or(day),
    };
    let when = When {
        earliest: start,
        latest: end + length,
        day,
    };
    Ok(Told { when, doubt })
}

/// `1` and `01:00` as an offset from UTC.
fn offset(sign: i32, digits: &str) -> Option<Offset> {
    let (hours, minutes) = digits.split_once(':')?;
    let (hours, minutes) = (hours.parse::<i32>().ok()?, minutes.parse::<i32>().ok()?);
    if !(0..=14).contains(&hours) || !(0..60).contains(&minutes) {
        return None;
    }
    Offset::from_seconds(sign * (hours * 3600 + minutes * 60)).ok()
}

fn at_offset(time: civil::DateTime, offset: Offset) -> Option<i64> {
    let timestamp = offset.to_timestamp(time).ok()?;
    Some(timestamp.as_second())
}

/// `+01:00`
fn offset_text(offset: Offset) -> String {
    let seconds = offset.seconds();
    let sign = if seconds < 0 { '-' } else { '+' };
    let minutes = seconds.unsigned_abs() / 60;
    format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
}

/// Reads a date or time as UTC seconds, for expressions that stand alone.
pub fn parse_utc(text: &str) -> Result<i64, String> {
    parse_when(text, &Zone::utc()).map(|told| told.when.earliest)
}

/// Writes seconds since 1970-01-01 00:00 UTC as date and time in a zone.
pub fn format_in_zone(seconds: i64, zone: &Zone) -> String {
    match jiff::Timestamp::from_second(seconds) {
        Ok(timestamp) => zone
            .0
            .to_datetime(timestamp)
            .strftime("%Y-%m-%d %H:%M")
            .to_string(),
        Err(_) => format!("{seconds} s"),
    }
}

/// Writes seconds since 1970-01-01 00:00 UTC as date and time in UTC.
pub fn format_utc(seconds: i64) -> String {
    match jiff::Timestamp::from_second(seconds) {
        Ok(timestamp) => timestamp.strftime("%Y-%m-%d %H:%M UTC").to_string(),
        Err(_) => format!("{seconds} s"),
    }
}

/// Writes days since 1970-01-01 as a date.
pub fn format_day(day: i32) -> String {
    let date = civil::date(1970, 1, 1).checked_add(jiff::Span::new().days(i64::from(day)));
    date.map_or_else(|_| format!("day {day}"), |date| date.to_string())
}

fn civil_date(text: &str) -> Result<civil::Date, String> {
    let mut parts = text.split('-');
    let mut number = || parts.next().and_then(|part| part.parse::<i16>().ok());
    let (year, month, day) = (number(), number(), number());
    let (Some(year), Some(month), Some(day)) = (year, month, day) else {
        return Err(format!(
            "expected a date such as 2026-03-02, found `{text}`"
        ));
    };
    let month_ok = (1..=12).contains(&month);
    let narrow = |value: i16| i8::try_from(value).unwrap_or(0);
    civil::Date::new(year, narrow(month), narrow(day)).map_err(|_| {
        let last = if month_ok {
            civil::Date::new(year, narrow(month), 1)
                .map(|first| first.days_in_month())
                .unwrap_or(31)
        } else {
            0
        };
        if month_ok {
            format!("expected a day that exists, found `{text}`: that month has {last} days")
        } else {
            format!("expected a month from 01 to 12, found `{text}`")
        }
    })
}

fn clock(text: &str) -> Result<(i8, i8, i8), String> {
    let mut parts = text.split(':').map(|part| part.parse::<i8>().ok());
    let mut next = || parts.next().flatten();
    let (hour, minute) = (next(), next());
    let second = if text.matches(':').count() == 2 {
        next()
    } else {
        Some(0)
    };
    match (hour, minute, second) {
        (Some(hour @ 0..=23), Some(minute @ 0..=59), Some(second @ 0..=59)) => {
            Ok((hour, minute, second))
        }
        _ => Err(format!(
            "expected a time from 00:00 to 23:59, found `{text}`"
        )),
    }
}

fn day_number(date: civil::Date) -> i32 {
    // Days since 1970-01-01 by the civil calendar; UTC has no jumps.
    let seconds = TimeZone::UTC
        .to_zoned_datetime(date.at(0, 0, 0, 0))
        .map(|zoned| zoned.timestamp().as_second());
    seconds.map_or(0, |seconds| seconds.div_euclid(86_400) as i32)
}

/// Reads many times of one zone quickly: the zone's offset is looked up once a day.
#[derive(Debug)]
pub struct Clock {
    zone: Zone,
    /// The last day asked for, and its offset when that holds for the whole day.
    day: Option<(i32, i32, i32, i64, Option<i64>)>,
}

impl Clock {
    /// A clock of this zone.
    pub fn new(zone: Zone) -> Clock {
        Clock { zone, day: None }
    }

    /// As [`parse_when`].
    pub fn read(&mut self, text: &str) -> Result<Told, String> {
        if let Some(when) = self.fast(text) {
            return Ok(Told { when, doubt: None });
        }
        parse_when(text, &self.zone)
    }

    fn fast(&mut self, text: &str) -> Option<When> {
        let bytes = text.as_bytes();
        let digits = |range: std::ops::Range<usize>| {
            bytes.get(range)?.iter().try_fold(0i32, |sum, byte| {
                byte.is_ascii_digit()
                    .then(|| sum * 10 + i32::from(byte - b'0'))
            })
        };
        if bytes.len() < 16 || bytes.get(4) != Some(&b'-') || bytes.get(7) != Some(&b'-') {
            return None;
        }
        let (year, month, day) = (digits(0..4)?, digits(5..7)?, digits(8..10)?);
        let clock = text.get(10..)?.trim_start();
        let clock_bytes = clock.as_bytes();
        if !matches!(clock_bytes.len(), 5 | 8) || clock_bytes[2] != b':' {
            return None;
        }
        let pair = |at: usize| {
            let (tens, ones) = (*clock_bytes.get(at)?, *clock_bytes.get(at + 1)?);
            (tens.is_ascii_digit() && ones.is_ascii_digit())
                .then(|| i64::from(tens - b'0') * 10 + i64::from(ones - b'0'))
        };
        let (hour, minute) = (pair(0)?, pair(3)?);
        let (second, length) = if clock_bytes.len() == 8 {
            (pair(6)?, 0)
        } else {
            (0, 59)
        };
        if hour > 23 || minute > 59 || second > 59 {
            return None;
        }
        let known = self
            .day
            .filter(|known| (known.0, known.1, known.2) == (year, month, day));
        let (start_day, offset) = match known {
            Some((_, _, _, start_day, offset)) => (start_day, offset?),
            None => {
                let date = civil_date(text.get(..10)?).ok()?;
                let start_day = i64::from(day_number(date));
                let (midnight, early) = self.zone.instant(date.at(0, 0, 0, 0))?;
                let (evening, late) = self.zone.instant(date.at(23, 59, 59, 0))?;
                let plain = early.is_none() && late.is_none() && evening - midnight == 86_399;
                let offset = plain.then_some(start_day * 86_400 - midnight);
                self.day = Some((year, month, day, start_day, offset));
                (start_day, offset?)
            }
        };
        let start = start_day * 86_400 + hour * 3600 + minute * 60 + second - offset;
        Some(When {
            earliest: start,
            latest: start + length,
            day: start_day as i32,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn impossible_days_are_named() {
        assert_eq!(
            parse_day("2026-02-30"),
            Err(
                "expected a day that exists, found `2026-02-30`: that month has 28 days".to_owned()
            )
        );
        assert!(parse_day("2026-13-01").is_err());
        assert!(parse_when("2026-03-02 24:10", &Zone::utc()).is_err());
    }

    #[test]
    fn a_zone_moves_the_instant_and_the_clock_agrees_with_the_slow_way() {
        let vienna = Zone::parse("Europe/Vienna").unwrap();
        let offset = Zone::parse("+01:00").unwrap();
        let text = "2026-03-02 10:15";
        assert_eq!(parse_when(text, &vienna), parse_when(text, &offset));
        let mut clock = Clock::new(vienna.clone());
        for text in [
            "2026-03-02 10:15",
            "2026-03-29 01:30",
            "2026-03-29 03:30",
            "2026-10-25 02:30:10",
            "2026-10-25 02:30 +01:00",
            "2026-03-02 10:15Z",
            "2026-03-02",
        ] {
            assert_eq!(clock.read(text), parse_when(text, &vienna), "{text}");
        }
    }
}
