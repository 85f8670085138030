//! A sheet as SVG: text stays text.

use std::fmt::Write;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use xmlwriter::{Options, XmlWriter};

use super::font::FAMILY;
use super::png::picture_png;
use super::{Color, Item, Point, Sheet, Type};

/// The sheet as SVG; `shown` is the width and height that it is to have, with units.
pub(crate) fn svg(sheet: &Sheet, shown: (&str, &str)) -> String {
    let mut xml = XmlWriter::new(Options::default());
    xml.start_element("svg");
    xml.write_attribute("xmlns", "http://www.w3.org/2000/svg");
    xml.write_attribute("width", shown.0);
    xml.write_attribute("height", shown.1);
    let (width, height) = sheet.size;
    xml.write_attribute_fmt(
        "viewBox",
        format_args!("0 0 {} {}", short(width), short(height)),
    );
    xml.write_attribute("stroke-linejoin", "round");
    xml.write_attribute("font-family", FAMILY);
    xml.start_element("title");
    xml.set_preserve_whitespaces(true);
    xml.write_text(&escaped(&sheet.title));
    xml.end_element();
    xml.set_preserve_whitespaces(false);
    for item in sheet.items() {
        write_item(&mut xml, &item);
    }
    xml.end_document()
}

fn write_item(xml: &mut XmlWriter, item: &Item) {
    match item {
        Item::Line {
            points,
            color,
            width,
        } => {
            xml.start_element("polyline");
            xml.write_attribute("points", &listed(points));
            xml.write_attribute("fill", "none");
            stroke(xml, *color, *width);
        }
        Item::Area { outline, color } => {
            xml.start_element("polygon");
            xml.write_attribute("points", &listed(outline));
            xml.write_attribute("fill", &color.hex());
        }
        Item::Box {
            corner,
            size,
            color,
        } => {
            xml.start_element("rect");
            place(xml, *corner, *size);
            xml.write_attribute("fill", &color.hex());
        }
        Item::Circle {
            centre,
            radius,
            color,
            pen_width,
        } => {
            xml.start_element("circle");
            xml.write_attribute("cx", &short(centre.0));
            xml.write_attribute("cy", &short(centre.1));
            xml.write_attribute("r", &short(*radius));
            match pen_width {
                Some(width) => {
                    xml.write_attribute("fill", "none");
                    stroke(xml, *color, *width);
                }
                None => xml.write_attribute("fill", &color.hex()),
            }
        }
        Item::Text { text, at, set } => write_text(xml, text, *at, *set),
        Item::Picture {
            corner,
            size,
            pixels,
            rgb,
            flat,
        } => {
            xml.start_element("image");
            place(xml, *corner, *size);
            if *flat {
                xml.write_attribute("preserveAspectRatio", "none");
                xml.write_attribute("style", "image-rendering:pixelated");
            }
            let png = STANDARD.encode(picture_png(rgb, *pixels));
            xml.write_attribute_fmt("href", format_args!("data:image/png;base64,{png}"));
        }
    }
    xml.end_element();
}

fn write_text(xml: &mut XmlWriter, text: &str, at: Point, set: Type) {
    let (x, y) = (short(at.0), short(at.1));
    xml.start_element("text");
    xml.write_attribute("x", &x);
    xml.write_attribute("y", &y);
    xml.write_attribute("font-size", &short(set.size));
    if set.bold {
        xml.write_attribute("font-weight", "bold");
    }
    xml.write_attribute("fill", &set.color.hex());
    if set.upward {
        xml.write_attribute_fmt("transform", format_args!("rotate(270 {x} {y})"));
    }
    xml.set_preserve_whitespaces(true);
    xml.write_text(&escaped(text));
}

/// The writer takes care of `<` alone.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
}

fn stroke(xml: &mut XmlWriter, color: Color, width: f64) {
    xml.write_attribute("stroke", &color.hex());
    xml.write_attribute("stroke-width", &short(width));
}

fn place(xml: &mut XmlWriter, corner: Point, size: Point) {
    xml.write_attribute("x", &short(corner.0));
    xml.write_attribute("y", &short(corner.1));
    xml.write_attribute("width", &short(size.0));
    xml.write_attribute("height", &short(size.1));
}

fn listed(points: &[Point]) -> String {
    let mut list = String::new();
    for (number, (x, y)) in points.iter().enumerate() {
        let space = if number == 0 { "" } else { " " };
        // Writing to memory cannot fail.
        let _ = write!(list, "{space}{},{}", short(*x), short(*y));
    }
    list
}

/// Hundredths of a point, which no eye tells apart; what is no number is 0.
fn short(value: f64) -> String {
    let hundredths = (100.0 * value).round() / 100.0;
    if hundredths.is_finite() && hundredths != 0.0 {
        hundredths.clamp(-1e6, 1e6).to_string()
    } else {
        "0".to_owned()
    }
}
