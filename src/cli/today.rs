//! `--today`: the day against which dates are held.

use clap::Args;
use std::time::{SystemTime, UNIX_EPOCH};

use crate::quantity::moment::parse_day;
use crate::workspace::Today;

/// The day that counts as today.
#[derive(Debug, Args)]
pub struct TodayArgument {
    /// The day that counts as today; anything dated later is an error. By default the system's date in the
    /// zone of each record
    #[arg(long, value_name = "DATE", value_parser = parse_day)]
    pub today: Option<i32>,
}

impl TodayArgument {
    /// What counts as today: the day given, else the present instant.
    pub fn counts(&self) -> Option<Today> {
        if let Some(day) = self.today {
            return Some(Today::Day(day));
        }
        // A clock before 1970 says nothing; then nothing is held against it.
        let since = SystemTime::now().duration_since(UNIX_EPOCH).ok()?;
        i64::try_from(since.as_secs()).ok().map(Today::Instant)
    }
}
