//! A sheet as plotters sees it: lines and texts that axes are made of.

use std::convert::Infallible;

use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
    FontStyle, FontTransform, text_anchor,
};

use super::{Color, HPos, Pen, Point, Sheet, Type, VPos};

/// Units to a point: plotters counts in whole numbers.
pub(crate) const UNIT: f64 = 100.0;

/// A sheet to be drawn on by plotters.
pub(crate) struct SheetBackend<'a>(pub(crate) &'a Sheet);

type Drawn = Result<(), DrawingErrorKind<Infallible>>;

impl DrawingBackend for SheetBackend<'_> {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        let (width, height) = self.0.size;
        ((width * UNIT) as u32, (height * UNIT) as u32)
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        Ok(())
    }

    fn draw_pixel(&mut self, at: BackendCoord, color: BackendColor) -> Drawn {
        if let Some(color) = opaque(color) {
            self.0.dot(point(at), 0.5 / UNIT, color);
        }
        Ok(())
    }

    fn draw_line<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        style: &S,
    ) -> Drawn {
        self.draw_path([from, to], style)
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        if let Some(color) = opaque(style.color()) {
            let points: Vec<Point> = path.into_iter().map(point).collect();
            self.0.line(&points, pen(color, style));
        }
        Ok(())
    }

    fn draw_text<S: BackendTextStyle>(&mut self, text: &str, style: &S, at: BackendCoord) -> Drawn {
        if let Some(color) = opaque(style.color()) {
            self.0.text(text, point(at), set(style, color));
        }
        Ok(())
    }

    fn estimate_text_size<S: BackendTextStyle>(
        &self,
        text: &str,
        style: &S,
    ) -> Result<(u32, u32), DrawingErrorKind<Infallible>> {
        let set = set(style, Color::WHITE);
        let (wide, high) = (self.0.width(text, set), set.size);
        Ok(((wide * UNIT) as u32, (high * UNIT) as u32))
    }
}

fn point((x, y): BackendCoord) -> Point {
    (f64::from(x) / UNIT, f64::from(y) / UNIT)
}

/// Sheets know no half-transparent colour; what is transparent is left out.
fn opaque(color: BackendColor) -> Option<Color> {
    let (red, green, blue) = color.rgb;
    (color.alpha > 0.0).then_some(Color(red, green, blue))
}

fn pen<S: BackendStyle>(color: Color, style: &S) -> Pen {
    Pen::full(color, f64::from(style.stroke_width()) / UNIT)
}

fn set<S: BackendTextStyle>(style: &S, color: Color) -> Type {
    let anchor = style.anchor();
    Type {
        size: style.size() / UNIT,
        bold: matches!(style.style(), FontStyle::Bold),
        color,
        h: match anchor.h_pos {
            text_anchor::HPos::Left => HPos::Left,
            text_anchor::HPos::Center => HPos::Center,
            text_anchor::HPos::Right => HPos::Right,
        },
        v: match anchor.v_pos {
            text_anchor::VPos::Top => VPos::Top,
            text_anchor::VPos::Center => VPos::Center,
            text_anchor::VPos::Bottom => VPos::Bottom,
        },
        upward: matches!(style.transform(), FontTransform::Rotate270),
    }
}
