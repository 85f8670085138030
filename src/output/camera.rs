//! Pictures of a camera as files: PNG, the readings file that names them, and a few sentences beside them.

use std::fmt::Write;

use crate::output::figure::FigureError;
use crate::study::aperture::{Camera, CameraPicture};

/// What the readings file and the README begin with: files that begin otherwise are somebody's own.
pub const COMPUTED: &str = "# Computed by polstack aperture --render, not photographed.";

/// A picture at polars that are not parallel, with the parallel one that belongs to it.
#[derive(Debug, Clone, PartialEq)]
pub struct RenderedPicture {
    /// Name of its file.
    pub name: String,
    /// Name of the file of the picture with the polars parallel.
    pub parallel: String,
    /// Exposures of both, over that of the parallel picture of the stand as written.
    pub exposures: (f64, f64),
    /// The analyzer's ring, degrees; `None` where it stands as written.
    pub analyzer_deg: f64,
    /// Both polars turned together, degrees.
    pub polars_turned_deg: f64,
    /// Names of the plates that are in.
    pub plates: Vec<String>,
    /// Whether it is too dark for the longest exposure.
    pub too_dark: bool,
}

/// A picture as a grey PNG of 16 bits whose counts are proportional to the light.
///
/// # Errors
/// [`FigureError::Drawing`] when it cannot be packed.
pub fn picture_png(picture: &CameraPicture) -> Result<Vec<u8>, FigureError> {
    let failed = |error: png::EncodingError| FigureError::Drawing {
        figure: "picture",
        reason: error.to_string(),
    };
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, picture.pixels, picture.pixels);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Sixteen);
    // Viewers that heed it show the picture as bright as the eye would see it.
    encoder.set_source_gamma(png::ScaledFloat::new(1.0));
    let mut writer = encoder.write_header().map_err(failed)?;
    let counts: Vec<u8> = (picture.counts.iter())
        .flat_map(|count| count.to_be_bytes())
        .collect();
    writer.write_image_data(&counts).map_err(failed)?;
    writer.finish().map_err(failed)?;
    Ok(bytes)
}

/// The readings file that names the pictures, a line each; columns that no line needs are left out.
#[must_use]
pub fn picture_readings(pictures: &[RenderedPicture], dark_counts: f64) -> String {
    let any = |used: fn(&RenderedPicture) -> bool| pictures.iter().any(used);
    let number = |value: f64| value.to_string();
    type Cell<'a> = Box<dyn Fn(&RenderedPicture) -> String + 'a>;
    let mut columns: Vec<(&str, Cell<'_>)> = vec![
        ("photo", Box::new(|p| p.name.clone())),
        ("photo_parallel", Box::new(|p| p.parallel.clone())),
        ("exposure_s", Box::new(|p| number(p.exposures.0))),
        ("exposure_parallel_s", Box::new(|p| number(p.exposures.1))),
    ];
    if dark_counts != 0.0 {
        columns.push(("dark_counts", Box::new(move |_| number(dark_counts))));
    }
    // Told even where it is as written: the stand that is believed may have it elsewhere.
    columns.push(("analyzer_deg", Box::new(|p| number(p.analyzer_deg))));
    if any(|p| p.polars_turned_deg != 0.0) {
        let turned = |p: &RenderedPicture| Some(p.polars_turned_deg).filter(|deg| *deg != 0.0);
        let cell = move |p: &RenderedPicture| turned(p).map_or(String::new(), number);
        columns.push(("polars_turned_deg", Box::new(cell)));
    }
    if any(|p| !p.plates.is_empty()) {
        columns.push(("in", Box::new(|p| p.plates.join("+"))));
    }
    let note = |p: &RenderedPicture| match p.too_dark {
        true => "computed; too dark at the longest exposure".to_owned(),
        false => "computed".to_owned(),
    };
    columns.push(("note", Box::new(note)));
    let quoted = |cell: String| match cell.contains([',', '"']) {
        true => format!("\"{}\"", cell.replace('"', "\"\"")),
        false => cell,
    };
    let head: Vec<&str> = columns.iter().map(|(name, _)| *name).collect();
    let mut text = format!("{COMPUTED}\n{}\n", head.join(","));
    for picture in pictures {
        let row: Vec<String> = (columns.iter())
            .map(|(_, cell)| quoted(cell(picture)))
            .collect();
        text.push_str(&row.join(","));
        text.push('\n');
    }
    text
}

/// What the pictures are, in plain sentences. `off` is the largest of their [`CameraPicture::interpolation_off`].
#[must_use]
pub fn picture_readme(
    title: &str,
    camera: &Camera,
    pictures: &[RenderedPicture],
    off: f64,
) -> String {
    let frame = camera.frame();
    let size = camera.pixels;
    let mut text = format!(
        "{COMPUTED}\n\nStand: {title}\n\nThese pictures show what a grey camera would record that looks down the tube of this stand without the eyepiece: the bright disc of \
the aperture. No camera took them. They are computed from the scenario, so that what is found in them can be compared with what is true. Any specimen of the scenario is off the stage.\n\n"
    );
    let _ = write!(
        text,
        "Each picture is a grey PNG of {size} x {size} pixels whose counts are proportional to the light; 65535 is full scale. The disc has a radius of {:.2} pixels; its centre \
lies {:.2} pixels from the left and {:.2} from the top. The light falls off by {} % from the middle of the picture to a distance of one such radius, as it does behind most lenses.",
        frame.radius,
        frame.center_x,
        frame.center_y,
        short(100.0 * camera.vignetting)
    );
    if camera.bits < 16 {
        let _ = write!(
            text,
            " The camera has {} bits: its values are rounded to {} steps, spread over 16 bits.",
            camera.bits,
            1u32 << camera.bits
        );
    }
    if camera.dark_counts != 0.0 {
        let dark = short(camera.dark_counts);
        let _ = write!(
            text,
            " It adds {dark} counts to every pixel; take them off first (column dark_counts)."
        );
    }
    text.push_str("\n\n");
    text.push_str(&noise_words(camera));
    text.push_str(
        "\n\nEvery picture is exposed for itself, so that the brightest thousandth of its disc begins at 80 % of full scale (before what the camera adds), but no picture for longer than 10000 \
times the parallel one. Exposures in readings.csv are told in units of the first parallel picture's.",
    );
    if pictures.iter().any(|picture| picture.too_dark) {
        text.push_str(
            " The note says which pictures would have needed more: they are darker than that.",
        );
    }
    if camera.flip || camera.turn_rad != 0.0 {
        let flip = if camera.flip {
            "mirror it left to right, and then "
        } else {
            ""
        };
        let options = match camera.flip {
            true => "polstack fit by --turn-picture and --flip yes",
            false => "polstack fit by --turn-picture",
        };
        let _ = write!(
            text,
            "\n\nThe camera stands askew. To see a picture as the microscope has it, {flip}turn it by {} degrees counter-clockwise; East is then on the right. Whatever reads the \
pictures needs to be told so: {options}.",
            short(camera.turn_rad.to_degrees())
        );
    } else {
        text.push_str(
            "\n\nEast of the microscope is on the right of the pictures, North is above.",
        );
    }
    text.push_str("\n\nPictures:\n");
    let mut parallels: Vec<&str> = Vec::new();
    for picture in pictures {
        if !parallels.contains(&picture.parallel.as_str()) {
            parallels.push(&picture.parallel);
        }
    }
    for parallel in parallels {
        let _ = writeln!(text, "- {parallel}: the polars parallel, plates out");
    }
    for picture in pictures {
        let _ = writeln!(
            text,
            "- {}: {}, exposed for {} units, beside {}",
            picture.name,
            set_words(picture),
            picture.exposures.0,
            picture.parallel
        );
    }
    if off > 1.0 {
        let _ = write!(
            text,
            "\nIn places the light changes so sharply that between computed rays it may be off by {} times a thousandth of itself.\n",
            off.ceil()
        );
    }
    let _ = write!(
        text,
        "\nAt a real microscope: dim the lamp before polars are uncrossed, and before you look again with the eye.\n\n{}\n",
        crate::output::CAUTION
    );
    text
}

/// How the stand is set for a picture.
fn set_words(picture: &RenderedPicture) -> String {
    let mut words = format!("the analyzer's ring at {} degrees", picture.analyzer_deg);
    if picture.polars_turned_deg != 0.0 {
        let deg = picture.polars_turned_deg;
        let _ = write!(words, ", both polars turned together by {deg} degrees");
    }
    if !picture.plates.is_empty() {
        let _ = write!(words, ", with the {} in", picture.plates.join(" and the "));
    }
    words
}

fn noise_words(camera: &Camera) -> String {
    match camera.noise {
        None => "The camera has no noise.".to_owned(),
        Some(noise) => format!(
            "At full scale a pixel holds {} electrons. They come one by one, so that their number scatters by its own square root; reading a pixel out adds {} electrons of noise. \
What falls below 0 is cut off. The random numbers are those of --seed {}: the same command writes the same pictures.",
            short(noise.full_well),
            short(noise.read_noise),
            noise.seed
        ),
    }
}

fn short(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}
