//! A sheet without its background, in the inks of a theme, as it is laid on a slide.

use super::frame::holds;
use super::png::ClearRaster;
use super::{Color, Item, Pen, PlacedPicture, Raster, Sheet};

/// On which slides a figure is to lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SlideTheme {
    /// On a light background: ink stays dark.
    Light,
    /// On a dark background: ink becomes light.
    Dark,
}

/// Channels of a grey differ by this at most; what black becomes on dark slides, and how much of the way to black white goes.
const GREY: u8 = 16;
const LIGHTEST: f64 = 252.0;
const SPAN: f64 = 0.8;

impl Sheet {
    /// The same without its background, in the inks of a theme.
    pub(crate) fn bare(&self, theme: SlideTheme) -> Self {
        let all = self.items.borrow();
        // The first item is the white of the whole sheet.
        let inked = (1..all.len()).map(|k| all[k].for_theme(theme, &all[1..k]));
        self.with(self.size, inked.collect())
    }
}

impl Item {
    /// The same in the inks of a theme, a disc without its white corners; `under` is what was drawn before.
    fn for_theme(&self, theme: SlideTheme, under: &[Self]) -> Self {
        let mut own = self.frame();
        if let Self::Text(_, (_, foot), set) = self
            && !set.upward
        {
            // A digit at the edge of a patch stands on it, though a comma would reach beyond.
            own[3] = *foot;
        }
        if let Self::Circle(..) = self {
            // The rim of a disc is not on it.
            own = [own[0] - 1.0, own[1] - 1.0, own[2] + 1.0, own[3] + 1.0];
        }
        let is_patch = |item: &Self| {
            matches!(item, Self::Fill(..) | Self::Picture(_)) && holds(item.frame(), own)
        };
        // What stands on a patch of colour or on a picture was inked for it.
        let ink = |color: Color| match theme {
            SlideTheme::Dark if !under.iter().any(is_patch) => light_ink(color),
            _ => color,
        };
        match self.clone() {
            Self::Line(points, pen) => {
                let color = ink(pen.color);
                Self::Line(points, Pen { color, ..pen })
            }
            Self::Circle(centre, radius, pen) => {
                let color = ink(pen.color);
                Self::Circle(centre, radius, Pen { color, ..pen })
            }
            Self::Dot(centre, radius, color) => Self::Dot(centre, radius, ink(color)),
            Self::Text(text, foot, set) => Self::Text(text, foot, set.inked(ink(set.color))),
            area @ (Self::Polygon(..) | Self::Fill(..)) => area,
            Self::Picture(picture) => Self::Picture(PlacedPicture {
                disc: is_disc(&picture.raster),
                ..picture
            }),
        }
    }
}

/// An ink for dark slides in place of one for white paper: greys change places, colours stay.
fn light_ink(Color(red, green, blue): Color) -> Color {
    let (least, most) = (red.min(green).min(blue), red.max(green).max(blue));
    if most - least > GREY {
        return Color(red, green, blue);
    }
    let turned = |v: u8| (LIGHTEST - SPAN * f64::from(v)).round() as u8;
    Color(turned(red), turned(green), turned(blue))
}

/// How much of a pixel lies in the disc that fills a picture.
fn cover(place: usize, side: u32) -> f64 {
    let radius = 0.5 * f64::from(side);
    let at = |k: u32| f64::from(k) + 0.5 - radius;
    let (x, y) = (at(place as u32 % side), at(place as u32 / side));
    (radius - x.hypot(y) + 0.5).clamp(0.0, 1.0)
}

/// Whether a picture is a disc on white: square, and white wherever the disc does not reach.
fn is_disc(raster: &Raster) -> bool {
    let side = raster.width;
    side > 8
        && side == raster.height
        && (raster.bytes.chunks_exact(3).enumerate())
            .all(|(place, rgb)| cover(place, side) > 0.0 || rgb == [255; 3])
}

/// A disc on white as one on nothing: at its rim the white is taken out again.
pub(super) fn disc_of(raster: &Raster) -> ClearRaster {
    let pixel = |(place, rgb): (usize, &[u8])| {
        let cover = cover(place, raster.width);
        let bare = |v: u8| match cover > 0.0 {
            true => (255.0 + (f64::from(v) - 255.0) / cover)
                .round()
                .clamp(0.0, 255.0) as u8,
            false => 0,
        };
        [
            bare(rgb[0]),
            bare(rgb[1]),
            bare(rgb[2]),
            (255.0 * cover).round() as u8,
        ]
    };
    ClearRaster {
        width: raster.width,
        height: raster.height,
        bytes: (raster.bytes.chunks_exact(3).enumerate())
            .flat_map(pixel)
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::figure::look::{BODY, INK};

    #[test]
    fn dark_slides_have_light_ink_but_for_what_stands_on_a_patch() {
        let sheet = Sheet::new("A title", (800.0, 600.0));
        sheet.text("A title", (28.0, 30.0), BODY.sized(20.0).bold());
        sheet.fill((300.0, 200.0), (500.0, 260.0), Color(240, 240, 200));
        sheet.text("on a patch", (320.0, 230.0), BODY);
        let dark = sheet.bare(SlideTheme::Dark);
        let items = dark.items.borrow();
        let texts = items.iter().filter_map(|item| match item {
            Item::Text(text, _, set) => Some((text, set)),
            _ => None,
        });
        assert_eq!(texts.clone().count(), 2);
        for (text, set) in texts {
            let expected = if text == "on a patch" {
                INK
            } else {
                light_ink(INK)
            };
            assert_eq!(set.color, expected, "{text}");
        }
    }

    #[test]
    fn the_rim_of_a_disc_is_in_the_ink_of_the_slide() {
        let sheet = Sheet::new("A title", (800.0, 600.0));
        let rim = Pen::full(INK, 1.2);
        sheet.disc((300.0, 300.0), 90.0, (20, vec![40; 1200]), rim);
        sheet.circle((300.0, 300.0), 30.0, rim);
        for (theme, expected) in [
            (SlideTheme::Dark, [light_ink(INK), INK]),
            (SlideTheme::Light, [INK; 2]),
        ] {
            let bare = sheet.bare(theme);
            let items = bare.items.borrow();
            let circles = items.iter().filter_map(|item| match item {
                Item::Circle(_, _, pen) => Some(pen.color),
                _ => None,
            });
            assert_eq!(circles.collect::<Vec<_>>(), expected);
        }
    }

    #[test]
    fn a_disc_loses_its_corners_and_a_field_does_not() {
        let side = 20u32;
        let disc: Vec<u8> = (0..400)
            .flat_map(|k| [(255.0 - 155.0 * cover(k, side)).round() as u8; 3])
            .collect();
        let raster = |bytes| Raster {
            width: side,
            height: side,
            bytes,
        };
        assert!(is_disc(&raster(disc.clone())));
        assert!(!is_disc(&raster(vec![90; 1200])));
        let clear = disc_of(&raster(disc));
        assert_eq!(clear.bytes[3], 0);
        let middle = 4 * (10 * 20 + 10);
        assert_eq!(clear.bytes[middle..middle + 4], [100, 100, 100, 255]);
        for pixel in clear.bytes.chunks_exact(4).filter(|pixel| pixel[3] > 40) {
            assert!(pixel[0].abs_diff(100) <= 4, "{pixel:?}");
        }
    }
}
