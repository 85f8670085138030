//! Why pictures give no readings: which picture, what is wrong with it, and what to do.

use std::fmt;

use super::exposure::ExposureKind;

/// Pictures that cannot be read, framed or cut into zones.
///
/// Its `Display` is one line: the picture, what is wrong, and the remedy.
///
/// Checked by: `photograph::tests`, `tests/scenario/photographs.rs`.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotographError {
    picture: Option<String>,
    problem: PhotographProblem,
}

/// The kinds of mistake.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum PhotographProblem {
    /// There is no picture of one of the two settings, or there are too many.
    PictureCount {
        /// "crossed" or "parallel".
        setting: &'static str,
        /// How many there are.
        count: usize,
    },
    /// A number of the request lies outside its range.
    OutOfRange {
        /// What it is called.
        what: &'static str,
        /// The number.
        value: f64,
        /// What it may be.
        allowed: &'static str,
    },
    /// The file gives no bytes.
    Unreadable {
        /// Why, in words.
        why: String,
    },
    /// The bytes are no PNG, TIFF or JPEG.
    NotAPicture,
    /// The file breaks off, or does not keep to its format.
    Damaged {
        /// What the decoder says.
        why: String,
    },
    /// The picture is smaller than any that shows an aperture.
    TooSmall {
        /// Width, pixels.
        width: usize,
        /// Height, pixels.
        height: usize,
    },
    /// The picture has more than 64 megapixels.
    TooLarge {
        /// Width, pixels.
        width: usize,
        /// Height, pixels.
        height: usize,
    },
    /// The pictures of a setting need more memory than is allowed.
    TooMuchMemory {
        /// What they need, bytes.
        bytes: usize,
    },
    /// Its pixels are of a kind that is not read: a palette, CMYK, an odd depth.
    Pixels {
        /// What they are.
        what: String,
    },
    /// Its alpha channel is not opaque everywhere.
    NotOpaque,
    /// A value of a floating-point picture is not finite.
    NotFinite,
    /// 8 bits follow a curve that the camera does not tell, and curves are not accepted.
    Curve,
    /// `dark_counts` beside a picture that is not of 16 bits.
    DarkCounts,
    /// The picture is of another size than others, which have that of the first unless most have another.
    OtherSize {
        /// Width and height, pixels.
        size: (usize, usize),
        /// Width and height of the others, pixels.
        first: (usize, usize),
    },
    /// The picture has another number of colour channels than the first.
    OtherChannels {
        /// Channels.
        channels: usize,
        /// Channels of the first picture.
        first: usize,
    },
    /// Pictures of one setting hold different kinds of numbers.
    OtherDepth {
        /// What this picture holds.
        depth: &'static str,
        /// What the first picture of the setting holds.
        first: &'static str,
    },
    /// Nothing says how long the picture was exposed.
    NoExposure,
    /// Exposures of one line are told in different ways.
    MixedExposures {
        /// How this picture's is told.
        this: ExposureKind,
        /// How the first picture's is told.
        first: ExposureKind,
    },
    /// There is no bright disc.
    NoDisc,
    /// There is more than one bright disc.
    SeveralDiscs {
        /// Area of the second largest bright patch over that of the largest.
        share: f64,
    },
    /// The disc is too small to be cut into zones.
    DiscTooSmall {
        /// Its radius, pixels.
        radius: f64,
    },
    /// The picture's border cuts off too much of the disc.
    DiscCut {
        /// Share of the disc's edge that is in the picture.
        share: f64,
    },
    /// The bright patch is no disc.
    DiscShape,
    /// The disc is an ellipse: the camera is tilted.
    Tilted {
        /// By how much the long axis exceeds the short one, percent.
        percent: f64,
    },
    /// The given disc lies outside the picture.
    DiscOutside,
    /// So much of the picture is saturated in every exposure that nothing can be read of it.
    TooBright,
    /// So much of the picture is black that nothing can be read of it.
    TooDark,
    /// No zone holds pixels enough, though they are neither saturated nor black.
    NoZone,
    /// With the exposures that are told, the light with the polars as they are set is brighter than with the polars parallel, which cannot be.
    Brighter {
        /// By what factor.
        times: f64,
    },
}

impl PhotographError {
    /// A problem of one picture.
    pub(crate) fn of(picture: &str, problem: PhotographProblem) -> Self {
        Self {
            picture: Some(picture.to_owned()),
            problem,
        }
    }

    /// A problem of the request.
    pub(super) fn request(problem: PhotographProblem) -> Self {
        Self {
            picture: None,
            problem,
        }
    }

    /// The picture that is to blame, where it is one.
    #[must_use]
    pub fn picture(&self) -> Option<&str> {
        self.picture.as_deref()
    }

    /// What is wrong.
    #[must_use]
    pub fn problem(&self) -> &PhotographProblem {
        &self.problem
    }

    /// What is wrong, in a phrase that does not name the picture.
    #[must_use]
    pub fn message(&self) -> String {
        self.problem.message()
    }

    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> &'static str {
        self.problem.advice()
    }
}

impl fmt::Display for PhotographError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(picture) = &self.picture {
            let shown: String = picture.chars().filter(|c| !c.is_control()).collect();
            write!(f, "{shown}: ")?;
        }
        write!(f, "{}; {}", self.message(), self.advice())
    }
}

impl std::error::Error for PhotographError {}

impl PhotographProblem {
    fn message(&self) -> String {
        match self {
            Self::PictureCount { setting, count: 0 } => format!("there is no {setting} picture"),
            Self::PictureCount { setting, count } => {
                format!("there are {count} {setting} pictures of one setting")
            }
            Self::OutOfRange {
                what,
                value,
                allowed,
            } => format!("`{what}` = {value} is not allowed: {allowed}"),
            Self::Unreadable { why } => format!("the picture cannot be read: {why}"),
            Self::NotAPicture => "the file is no PNG, TIFF or JPEG picture".into(),
            Self::Damaged { why } => format!("the picture is damaged or cut short: {why}"),
            Self::TooSmall { width, height } => {
                format!("the picture is only {width} x {height} pixels")
            }
            Self::TooLarge { width, height } => {
                format!("the picture has {width} x {height} pixels, more than 64 million")
            }
            Self::TooMuchMemory { bytes } => format!(
                "reading the picture would need {:.2} GB of memory, more than 0.94",
                *bytes as f64 / 1e9
            ),
            Self::Pixels { what } => format!("the picture's pixels are {what}, which is not read"),
            Self::NotOpaque => "the picture is transparent in places".into(),
            Self::NotFinite => "the picture holds values that are no finite numbers".into(),
            Self::Curve => {
                "the picture has 8 bits, which follow a curve that the file does not tell".into()
            }
            Self::DarkCounts => {
                "`dark_counts` are told, but the picture does not hold counts of 16 bits".into()
            }
            Self::OtherSize { size, first } => format!(
                "the picture has {} x {} pixels, where others have {} x {}",
                size.0, size.1, first.0, first.1
            ),
            Self::OtherChannels { channels, first } => {
                format!("the picture has {channels} colour channels, the first one {first}")
            }
            Self::OtherDepth { depth, first } => {
                format!("the picture holds {depth}, the first one of its setting {first}")
            }
            Self::NoExposure => "nothing says how long the picture was exposed".into(),
            Self::MixedExposures { this, first } => {
                format!("the exposure is told by {this}, that of the first picture by {first}")
            }
            Self::NoDisc => "there is no bright disc on a dim background".into(),
            Self::SeveralDiscs { share } => format!(
                "there is more than one bright patch: the second has {:.0} % of the first one's area",
                100.0 * share
            ),
            Self::DiscTooSmall { radius } => {
                format!("the bright disc is too small: its radius is {radius:.1} pixels")
            }
            Self::DiscCut { share } => format!(
                "the picture's border cuts off too much of the disc: {:.0} % of its edge is in the picture",
                100.0 * share
            ),
            Self::DiscShape => "the bright patch is no disc".into(),
            Self::Tilted { percent } => {
                format!("the disc is {percent:.1} % longer than wide: the camera is tilted")
            }
            Self::DiscOutside => "the given disc lies outside the picture".into(),
            Self::TooBright => {
                "the picture is saturated: no zone of the aperture can be read".into()
            }
            Self::TooDark => "the picture is black: no zone of the aperture can be read".into(),
            Self::NoZone => "no zone of the aperture has enough pixels that can be read".into(),
            Self::Brighter { times } => format!(
                "with the exposures that are told, the light is {times:.2} times that of the polars set parallel, which is the brightest there is"
            ),
        }
    }

    fn advice(&self) -> &'static str {
        match self {
            Self::PictureCount { count: 0, .. } => {
                "give one picture with the polars crossed and one with the polars parallel"
            }
            Self::PictureCount { .. } => "give at most 16",
            Self::OutOfRange { .. } => "write a value that is allowed",
            Self::Unreadable { .. } => "check the name, and that it may be read",
            Self::NotAPicture | Self::Pixels { .. } => {
                "save the picture as PNG or TIFF of 16 bits, grey or RGB, linear"
            }
            Self::Damaged { .. } => "copy or export the picture anew",
            Self::TooSmall { .. } => "give a picture at least 32 pixels wide and high",
            Self::TooLarge { .. } => "reduce it to half the size, all pictures of the line alike",
            Self::TooMuchMemory { .. } => {
                "cut away what lies around the disc, or reduce it to half the size, all pictures of the line alike; a PNG takes less than a TIFF"
            }
            Self::NotOpaque => "save the picture without an alpha channel",
            Self::NotFinite => "export the picture anew, without NaN or infinity",
            Self::Curve => {
                "give 16-bit linear pictures, or accept curves: the sRGB curve is then assumed"
            }
            Self::DarkCounts => "leave `dark_counts` out, or give pictures of 16 bits",
            Self::OtherSize { .. } => {
                "take all pictures of one line with the same camera in the same frame"
            }
            Self::OtherChannels { .. } => "save all pictures of one line grey, or all in colour",
            Self::OtherDepth { .. } => "save all pictures of one setting with the same depth",
            Self::NoExposure => "write `exposure_s`, or keep the camera's EXIF in the file",
            Self::MixedExposures { .. } => "write `exposure_s` for every picture of the line",
            Self::NoDisc | Self::DiscShape => {
                "look down the tube without the eyepiece, focus on the aperture's edge, or give center_x, center_y and radius"
            }
            Self::SeveralDiscs { .. } => {
                "see that photo and photo_parallel are not swapped: the disc is found on the parallel picture; or cut the picture to one disc, or give center_x, center_y and radius"
            }
            Self::DiscTooSmall { .. } => {
                "fill more of the frame with the aperture: at least 16 pixels of radius are needed"
            }
            Self::DiscCut { .. } => "centre the camera so that most of the disc's edge is seen",
            Self::Tilted { .. } => "hold the camera square to the tube: up to 3 % is taken",
            Self::TooBright => {
                "expose it shorter, or take a shorter exposure besides and join the two by +"
            }
            Self::TooDark => {
                "expose it longer, or take a longer exposure besides and join the two by +; see that dark_counts is not too large"
            }
            Self::NoZone => {
                "see that the disc lies in the picture, and check center_x, center_y and radius where they are given"
            }
            Self::Brighter { .. } => {
                "are exposure_s and exposure_parallel_s swapped, or photo and photo_parallel?"
            }
            Self::DiscOutside => {
                "check center_x, center_y and radius: pixels from the top left corner"
            }
        }
    }
}
