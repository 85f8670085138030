//! A scenario to start from: what a builder knows, and typical values with their doubt for what a builder cannot know.
//!
//! The typical values are common practice, no source; each stands in the file with the word "typical", so that it can be found and replaced.

use std::fmt::Write;

/// Kinds of condenser.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CondenserKind {
    /// One or two moulded lenses.
    Moulded,
    /// Two ground lenses without coating.
    Ground,
    /// Corrected for colour, coated.
    Corrected,
    /// None: the lamp lights the slide.
    None,
}

/// Kinds of objective.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ObjectiveKind {
    /// Corrected for two colours.
    Achromat,
    /// Corrected for a flat field, with many more surfaces.
    FlatField,
}

/// Where the lower polar stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StarterPlace {
    /// Below the condenser.
    Below,
    /// Above it.
    Above,
}

/// What is known of a stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Starter {
    /// What it is called.
    pub title: String,
    /// A lamp of the catalog.
    pub lamp: String,
    /// The condenser.
    pub condenser: CondenserKind,
    /// Its numerical aperture.
    pub condenser_na: f64,
    /// The objective.
    pub objective: ObjectiveKind,
    /// Its numerical aperture: from 1 on it is taken to be immersed in oil.
    pub objective_na: f64,
    /// The iris; `None` for nine tenths of what condenser and objective take.
    pub iris_na: Option<f64>,
    /// A sheet of the catalog.
    pub sheet: String,
    /// Where the lower polar stands.
    pub polar: StarterPlace,
    /// Whether there is a first-order plate.
    pub plate: bool,
}

impl Default for Starter {
    fn default() -> Self {
        Self {
            title: "My stand".to_owned(),
            lamp: "led-b3".to_owned(),
            condenser: CondenserKind::Moulded,
            condenser_na: 0.9,
            objective: ObjectiveKind::Achromat,
            objective_na: 0.65,
            iris_na: None,
            sheet: "iodine-medium".to_owned(),
            polar: StarterPlace::Below,
            plate: true,
        }
    }
}

/// What is typical of a lens: surfaces, glass, coating, strain in nm and its standard deviation.
struct Typical {
    surfaces: u32,
    glass: &'static str,
    coating: &'static str,
    strain_nm: f64,
    sd_nm: f64,
}

impl CondenserKind {
    fn typical(self) -> Option<(Typical, &'static str)> {
        let typical = |surfaces, glass, coating, strain_nm, sd_nm| Typical {
            surfaces,
            glass,
            coating,
            strain_nm,
            sd_nm,
        };
        match self {
            Self::Moulded => Some((typical(4, "B270", "none", 30.0, 20.0), "moulded lenses")),
            Self::Ground => Some((typical(4, "N-BK7", "none", 5.0, 5.0), "ground lenses")),
            Self::Corrected => Some((typical(8, "N-BK7", "mgf2", 3.0, 3.0), "corrected lenses")),
            Self::None => None,
        }
    }
}

impl ObjectiveKind {
    fn typical(self) -> (Typical, &'static str) {
        let typical = |surfaces, strain_nm| Typical {
            surfaces,
            glass: "N-BK7",
            coating: "mgf2",
            strain_nm,
            sd_nm: strain_nm,
        };
        match self {
            Self::Achromat => (typical(8, 3.0), "an achromat"),
            Self::FlatField => (typical(16, 5.0), "a flat-field objective"),
        }
    }
}

impl Starter {
    /// The iris as it will be written.
    #[must_use]
    pub fn iris(&self) -> f64 {
        let condenser = match self.condenser {
            CondenserKind::None => 0.1,
            _ => self.condenser_na,
        };
        let most = condenser.min(self.objective_na);
        self.iris_na.unwrap_or((90.0 * most).round() / 100.0)
    }

    /// The scenario as a commented file.
    ///
    /// # Examples
    /// ```
    /// use polstack::scenario::{Memory, Starter, parse};
    /// let text = Starter::default().text();
    /// let read = parse(&text, "my-stand.toml", &Memory::default())?;
    /// assert_eq!(read.title, "My stand");
    /// # Ok::<(), polstack::scenario::ScenarioError>(())
    /// ```
    ///
    /// Checked by: `tests/cli/start.rs`.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        let title = toml_text(&self.title);
        let _ = write!(
            text,
            "# Written by polstack start. The order of the parts is the order of the light. What a builder cannot know stands here as a typical value\n\
             # (common practice, no source): look for the word \"typical\", and put your own number there once you have it. tolerance says how well a\n\
             # number is known, as one standard deviation; with it every answer tells how far it can be trusted.\n\
             title = {title}\n\n\
             [light]\n\
             source = {lamp}   # a lamp of polstack catalog\n\n\
             [aperture]\n\
             na = {iris}   # the iris{wide}\n",
            lamp = toml_text(&self.lamp),
            iris = self.iris(),
            wide = match self.iris() > self.objective_na {
                true => format!(
                    "; the objective passes only {}, and that is what counts",
                    self.objective_na
                ),
                false => String::new(),
            },
        );
        match self.polar {
            StarterPlace::Below => {
                self.lower_polar(&mut text);
                self.condenser_table(&mut text);
            }
            StarterPlace::Above => {
                self.condenser_table(&mut text);
                self.lower_polar(&mut text);
            }
        }
        part(&mut text, "slide");
        text.push_str("slide = { glass = 1.515, mount = 1.515 }   # typical: crown glass, and a mount of its index\n");
        self.objective_table(&mut text);
        if self.plate {
            part(&mut text, "first-order plate");
            text.push_str("plate = { path_difference_nm = 550, at_nm = 550, material = \"quartz\", azimuth_deg = 45 }   # typical: 530 to 565 nm are sold\n");
        }
        part(&mut text, "analyzer");
        let _ = write!(
            text,
            "analyzer = {{ sheet = {}, azimuth_deg = 90 }}\n\
             tolerance = {{ azimuth_deg = 0.5 }}   # typical: crossed by eye to half a degree\n",
            toml_text(&self.sheet)
        );
        text
    }

    fn lower_polar(&self, text: &mut String) {
        part(text, "lower polar");
        let _ = writeln!(
            text,
            "polarizer = {{ sheet = {}, azimuth_deg = 0 }}   # a sheet of polstack catalog; its leak is known to a factor of 5",
            toml_text(&self.sheet)
        );
    }

    fn condenser_table(&self, text: &mut String) {
        let Some((typical, words)) = self.condenser.typical() else {
            return;
        };
        part(text, "condenser");
        let Typical {
            surfaces,
            glass,
            coating,
            strain_nm,
            sd_nm,
        } = typical;
        let _ = write!(
            text,
            "# typical of {words}: number of surfaces, glass and coating. Nobody can know the strain without a reading: polstack fit finds it.\n\
             condenser = {{ na = {na}, immersion = \"air\", surfaces = {surfaces}, glass = \"{glass}\", coating = \"{coating}\" }}\n\
             strain = [ {{ radial = {{ edge_nm = {strain_nm} }} }} ]   # typical: path difference at the rim, in nm\n\
             tolerance = {{ path_difference_nm = {sd_nm} }}   # typical: one standard deviation of the strain, in nm\n",
            na = self.condenser_na,
        );
    }

    fn objective_table(&self, text: &mut String) {
        let (typical, words) = self.objective.typical();
        part(text, "objective");
        let immersion = if self.objective_na >= 1.0 {
            "oil"
        } else {
            "air"
        };
        let Typical {
            surfaces,
            glass,
            coating,
            strain_nm,
            sd_nm,
        } = typical;
        let _ = write!(
            text,
            "# typical of {words}: number of surfaces, glass and coating.\n\
             objective = {{ na = {na}, immersion = \"{immersion}\", surfaces = {surfaces}, glass = \"{glass}\", coating = \"{coating}\" }}\n\
             # typical: strain in nm; 45 degrees to the polars is where it leaks most.\n\
             strain = [ {{ uniform = {{ path_difference_nm = {strain_nm}, azimuth_deg = 45 }} }} ]\n\
             tolerance = {{ path_difference_nm = {sd_nm} }}   # typical: one standard deviation of the strain, in nm\n",
            na = self.objective_na,
        );
    }
}

fn part(text: &mut String, name: &str) {
    let _ = write!(text, "\n[[part]]\nname = \"{name}\"\n");
}

/// A string of TOML.
fn toml_text(words: &str) -> String {
    toml::Value::from(words).to_string()
}
