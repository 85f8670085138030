//! In which files a moving picture is written.

/// The form of a moving picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MovingForm {
    /// One animated GIF that begins again for ever, in few colours.
    Gif,
    /// One animated PNG that begins again for ever, in all its colours.
    Apng,
    /// Numbered PNG pictures.
    Numbered,
}

impl MovingForm {
    /// A GIF, unless another form was asked for.
    #[must_use]
    pub fn asked(numbered: bool, apng: bool) -> Self {
        match (numbered, apng) {
            (true, _) => Self::Numbered,
            (false, true) => Self::Apng,
            (false, false) => Self::Gif,
        }
    }
}

/// Names and bytes of numbered pictures, from 1.
pub(super) fn numbered(stem: &str, pictures: Vec<Vec<u8>>) -> Vec<(String, Vec<u8>)> {
    let named = (1..).zip(pictures);
    named
        .map(|(number, png)| (format!("{stem}-{number:03}.png"), png))
        .collect()
}
