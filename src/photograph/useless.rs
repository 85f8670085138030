//! Pictures of which nothing can be read, and which of them is to be taken anew: too bright, or too dark.

use super::error::{PhotographError, PhotographProblem};
use super::merge::Merged;
use super::zones::{LeftOut, ZoneChannel};
use super::{Framed, ZonePicture};

/// Shares of pixels from which a picture without a disc is called saturated, and black: a bright disc on a black background is neither.
const MOSTLY: f64 = 0.5;
const ALL_BUT: f64 = 0.999;

/// A picture in which most pixels are saturated or black, where no disc is found in it.
pub(super) fn too_bright_or_dark(of: &Merged) -> Option<PhotographError> {
    let (saturated, black) = of.useless();
    if saturated > MOSTLY {
        let shortest = of.exposed(false);
        Some(PhotographError::of(shortest, PhotographProblem::TooBright))
    } else if black > ALL_BUT {
        let longest = of.exposed(true);
        Some(PhotographError::of(longest, PhotographProblem::TooDark))
    } else {
        None
    }
}

impl Framed {
    /// Why no zone of these can be read: the picture that is too bright or too dark, and what to do. `None` where one can.
    ///
    /// Checked by: `tests/cli/photographs.rs`.
    #[must_use]
    pub fn refusal(&self, picture: &ZonePicture) -> Option<PhotographError> {
        let channels = || picture.zones.iter().flat_map(|zone| &zone.channels);
        if channels().any(|channel| channel.reading.is_ok()) {
            return None;
        }
        let often = |is: &dyn Fn(&ZoneChannel) -> bool| {
            2 * channels().filter(|channel| is(channel)).count() > channels().count()
        };
        let dark = |of: &Merged| {
            let longest = of.exposed(true);
            Some(PhotographError::of(longest, PhotographProblem::TooDark))
        };
        let saturated: f64 = picture.zones.iter().map(|zone| zone.saturated as f64).sum();
        let expected: f64 = picture.zones.iter().map(|zone| zone.expected).sum();
        if saturated > 0.5 * expected {
            let [crossed, parallel] = [&self.crossed, &self.parallel].map(|of| of.useless().0);
            let of = match parallel > crossed {
                true => &self.parallel,
                false => &self.crossed,
            };
            let shortest = of.exposed(false);
            return Some(PhotographError::of(shortest, PhotographProblem::TooBright));
        }
        if often(&|channel| matches!(channel.reading, Err(LeftOut::TooDark { .. }))) {
            return dark(&self.crossed);
        }
        if often(&|channel| matches!(channel.reading, Err(LeftOut::NoLight))) {
            return match often(&|channel| channel.parallel > 0.0) {
                true => dark(&self.crossed),
                false => dark(&self.parallel),
            };
        }
        let shown = self.parallel.exposed(true);
        Some(PhotographError::of(shown, PhotographProblem::NoZone))
    }
}

impl Merged {
    /// The shares of the picture's pixels that are saturated in every exposure, and that are black in the longest one.
    fn useless(&self) -> (f64, f64) {
        match self.header.channels {
            1 => self.count_useless::<1>(),
            _ => self.count_useless::<3>(),
        }
    }

    fn count_useless<const CHANNELS: usize>(&self) -> (f64, f64) {
        let (mut saturated, mut black) = (0usize, 0usize);
        for j in 0..self.header.height {
            let row = self.row(j);
            for i in 0..self.header.width {
                match row.pixel::<CHANNELS>(i) {
                    None => saturated += 1,
                    Some((_, channels)) => black += usize::from(channels != 0),
                }
            }
        }
        let all = (self.header.width * self.header.height).max(1) as f64;
        (saturated as f64 / all, black as f64 / all)
    }

    /// The name of the picture with the longest exposure, or with the shortest.
    fn exposed(&self, longest: bool) -> &str {
        let exposure = match longest {
            true => self.longest_exposure(),
            false => self.shortest_exposure(),
        };
        let shot = (self.shots.iter()).find(|shot| shot.exposure.relative == exposure);
        shot.or(self.shots.first()).map_or("", |shot| &shot.name)
    }
}
