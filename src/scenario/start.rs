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

/// What is known of a stand; for what is `None` the scenario has what is usual, and says that it is typical.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Starter {
    /// What it is called.
    pub title: Option<String>,
    /// A lamp of the catalog.
    pub lamp: Option<String>,
    /// The condenser.
    pub condenser: Option<CondenserKind>,
    /// Its numerical aperture.
    pub condenser_na: Option<f64>,
    /// The objective.
    pub objective: Option<ObjectiveKind>,
    /// Its numerical aperture: from 1 on it is taken to be immersed in oil.
    pub objective_na: Option<f64>,
    /// The iris; usually nine tenths of what condenser and objective take.
    pub iris_na: Option<f64>,
    /// A sheet of the catalog.
    pub sheet: Option<String>,
    /// Where the lower polar stands.
    pub polar: Option<StarterPlace>,
    /// Whether there is a first-order plate.
    pub plate: Option<bool>,
}

/// What is usual, where nothing else is known.
impl Starter {
    /// What a stand is called.
    pub const TITLE: &str = "My stand";
    /// A white lamp of light-emitting diodes.
    pub const LAMP: &str = "led-b3";
    /// Aperture of a condenser.
    pub const CONDENSER_NA: f64 = 0.9;
    /// Aperture of an objective.
    pub const OBJECTIVE_NA: f64 = 0.65;
    /// The sheet.
    pub const SHEET: &str = "iodine-medium";
    /// The angle within which a lamp alone lights the slide, as an aperture.
    const LAMP_NA: f64 = 0.1;
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
    fn condenser(&self) -> CondenserKind {
        self.condenser.unwrap_or(CondenserKind::Moulded)
    }

    fn condenser_na(&self) -> f64 {
        self.condenser_na.unwrap_or(Self::CONDENSER_NA)
    }

    fn objective_na(&self) -> f64 {
        self.objective_na.unwrap_or(Self::OBJECTIVE_NA)
    }

    fn sheet(&self) -> String {
        toml_text(self.sheet.as_deref().unwrap_or(Self::SHEET))
    }

    /// The iris as it will be written.
    #[must_use]
    pub fn iris(&self) -> f64 {
        let lit = match self.condenser() {
            CondenserKind::None => Self::LAMP_NA,
            _ => self.condenser_na(),
        };
        let most = lit.min(self.objective_na());
        self.iris_na.unwrap_or((90.0 * most).round() / 100.0)
    }

    /// What is said of the iris in the file.
    fn iris_words(&self) -> String {
        let objective = self.objective_na();
        match (self.iris_na, self.condenser()) {
            (None, CondenserKind::None) => {
                "what lights the slide; typical: a lamp without a condenser".to_owned()
            }
            (None, _) => "the iris; typical: nine tenths of what the lenses take".to_owned(),
            (Some(iris), _) if iris > objective => {
                format!("the iris; the objective passes only {objective}, and that is what counts")
            }
            (Some(_), _) => "the iris".to_owned(),
        }
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
        let title = toml_text(self.title.as_deref().unwrap_or(Self::TITLE));
        let _ = write!(
            text,
            "# Written by polstack start. The order of the parts is the order of the light. What a builder cannot know stands here as a typical value\n\
             # (common practice, no source): look for the word \"typical\", and put your own number there once you have it. tolerance says how well a\n\
             # number is known, as one standard deviation; with it every answer tells how far it can be trusted.\n\
             title = {title}\n\n\
             [light]\n\
             source = {lamp}   # a lamp of polstack catalog{guessed}\n\n\
             [aperture]\n\
             na = {iris}   # {words}\n",
            lamp = toml_text(self.lamp.as_deref().unwrap_or(Self::LAMP)),
            guessed = guessed(self.lamp.is_none()),
            iris = self.iris(),
            words = self.iris_words(),
        );
        match self.polar {
            None | Some(StarterPlace::Below) => {
                self.lower_polar(&mut text);
                self.condenser_table(&mut text);
            }
            Some(StarterPlace::Above) => {
                self.condenser_table(&mut text);
                self.lower_polar(&mut text);
            }
        }
        part(&mut text, "slide");
        text.push_str("slide = { glass = 1.515, mount = 1.515 }   # typical: crown glass, and a mount of its index\n");
        self.objective_table(&mut text);
        if self.plate.unwrap_or(true) {
            part(&mut text, "first-order plate");
            text.push_str("plate = { path_difference_nm = 550, at_nm = 550, material = \"quartz\", azimuth_deg = 45 }   # typical: 530 to 565 nm are sold\n");
        }
        part(&mut text, "analyzer");
        let _ = write!(
            text,
            "analyzer = {{ sheet = {}, azimuth_deg = 90 }}{}\n\
             tolerance = {{ azimuth_deg = 0.5 }}   # typical: crossed by eye to half a degree\n",
            self.sheet(),
            match self.sheet {
                None => "   # typical: the same sheet as below",
                Some(_) => "",
            }
        );
        text
    }

    fn lower_polar(&self, text: &mut String) {
        part(text, "lower polar");
        let _ = writeln!(
            text,
            "polarizer = {{ sheet = {}, azimuth_deg = 0 }}   # a sheet of polstack catalog{}; its leak is known to a factor of 5{}",
            self.sheet(),
            guessed(self.sheet.is_none()),
            match (self.polar, self.condenser()) {
                (None, kind) if kind != CondenserKind::None =>
                    "; typical: it lies below the condenser",
                _ => "",
            }
        );
    }

    fn condenser_table(&self, text: &mut String) {
        let Some((typical, words)) = self.condenser().typical() else {
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
             condenser = {{ na = {na}, immersion = \"air\", surfaces = {surfaces}, glass = \"{glass}\", coating = \"{coating}\" }}{guessed}\n\
             strain = [ {{ radial = {{ edge_nm = {strain_nm} }} }} ]   # typical: path difference at the rim, in nm\n\
             tolerance = {{ path_difference_nm = {sd_nm} }}   # typical: one standard deviation of the strain, in nm\n",
            na = self.condenser_na(),
            guessed = guessed_na(self.condenser_na),
        );
    }

    fn objective_table(&self, text: &mut String) {
        let objective = self.objective.unwrap_or(ObjectiveKind::Achromat);
        let (typical, words) = objective.typical();
        part(text, "objective");
        let immersion = if self.objective_na() >= 1.0 {
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
             objective = {{ na = {na}, immersion = \"{immersion}\", surfaces = {surfaces}, glass = \"{glass}\", coating = \"{coating}\" }}{guessed}\n\
             # typical: strain in nm; 45 degrees to the polars is where it leaks most.\n\
             strain = [ {{ uniform = {{ path_difference_nm = {strain_nm}, azimuth_deg = 45 }} }} ]\n\
             tolerance = {{ path_difference_nm = {sd_nm} }}   # typical: one standard deviation of the strain, in nm\n",
            na = self.objective_na(),
            guessed = guessed_na(self.objective_na),
        );
    }
}

fn part(text: &mut String, name: &str) {
    let _ = write!(text, "\n[[part]]\nname = \"{name}\"\n");
}

/// Behind what the catalog has under a name that nobody gave.
fn guessed(is: bool) -> &'static str {
    if is { "; typical: put yours here" } else { "" }
}

/// Behind a lens whose numerical aperture nobody gave.
fn guessed_na(na: Option<f64>) -> &'static str {
    match na {
        None => "   # typical: na too, read yours off the lens",
        Some(_) => "",
    }
}

/// A string of TOML.
fn toml_text(words: &str) -> String {
    toml::Value::from(words).to_string()
}
