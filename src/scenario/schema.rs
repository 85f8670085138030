//! The scenario file as it is written: every key, what it means and what it may be.
//!
//! The comments on the fields are the descriptions in the JSON Schema. Nothing here is optics: `build` turns it into a
//! light path.

use std::borrow::Cow;

use schemars::generate::SchemaSettings;
use schemars::transform::{RecursiveTransform, Transform};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde_json::{Value, json};
use toml::de::DeValue;

use super::decode::Fault;
use super::from_toml::{Found, FromToml, Keys, key_of, mistyped, tables, word, words};
use super::lesson::LessonTable;
use super::located::{
    Angle, AngleTolerance, AxisAngle, Bending, Contacts, CoverPathDifference, Diameter, Force,
    Fraction, InPlaceOfName, Limited, LineWidth, Located, NameOr, NormalComponent, Number,
    NumericalAperture, OpticAngle, PathDifference, PathDifferenceTolerance, RefractiveIndex,
    StokesParameter, StrainPathDifference, StressOptic, Surfaces, Temperature, Thickness,
    Transmittance, ViewAperture, Wavelength, WavelengthStep,
};
use crate::material::catalog;
use crate::spectrum::Source;

/// The kinds of part, in the order of the light.
pub(super) const KINDS: [&str; 8] = [
    "polarizer",
    "retarder",
    "plate",
    "condenser",
    "slide",
    "specimen",
    "objective",
    "analyzer",
];

/// A stack of parts between lamp and eye. The order of the parts is the order of the light.
#[derive(Debug, JsonSchema)]
#[schemars(
    deny_unknown_fields,
    rename = "Scenario",
    title = "polstack scenario",
    extend("required" = ["light", "part"])
)]
pub(super) struct ScenarioFile {
    /// What the scenario shows, in a line; the file's name where it is left out.
    pub(super) title: Option<Located<String>>,
    /// The lamp.
    pub(super) light: LightTable,
    /// The condenser's iris; fully open where it is left out.
    pub(super) aperture: Option<ApertureTable>,
    /// The eye or camera that looks at a stack without an objective.
    pub(super) view: Option<ViewTable>,
    /// Stray light.
    pub(super) stray: Option<StrayTable>,
    /// What readings at the bench left in doubt.
    pub(super) doubt: Option<DoubtTable>,
    /// What a class is to do with the scenario and to learn; `polstack lessons` shows it, no computation reads it.
    pub(super) lesson: Option<LessonTable>,
    /// The wavelengths that are computed; 380 to 780 nm every 5 nm where it is left out.
    pub(super) spectrum: Option<SpectrumTable>,
    /// The parts, lamp first.
    #[schemars(default, length(min = 2, max = 100))]
    pub(super) part: Vec<Located<PartTable>>,
}

/// The lamp.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Light")]
pub(super) struct LightTable {
    /// A lamp of the catalog by name, or its spectrum.
    #[schemars(extend("examples" = Source::names()))]
    pub(super) source: Located<NameOr<SourceTable>>,
    /// State of the lamp's light as a Stokes vector; unpolarized where it is left out. Only ratios to the first count.
    #[schemars(length(equal = 4))]
    pub(super) stokes: Option<Located<Vec<Number<StokesParameter>>>>,
}

/// A lamp's spectrum: a blackbody, one line, or a table.
#[derive(Debug, Clone, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Source")]
pub(super) struct SourceTable {
    /// Temperature of a blackbody, K.
    pub(super) blackbody_k: Option<Number<Temperature>>,
    /// Centre of a Gaussian line, nm; needs `width_nm`.
    pub(super) line_nm: Option<Number<Wavelength>>,
    /// Full width of the line at half its maximum, nm.
    pub(super) width_nm: Option<Number<LineWidth>>,
    /// File with the columns wavelength_nm,power; relative to the scenario's folder.
    pub(super) csv: Option<Located<String>>,
}

impl InPlaceOfName for SourceTable {
    fn words() -> String {
        "a table: { blackbody_k }, { line_nm, width_nm } or { csv }".into()
    }
}

/// The condenser's iris.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Aperture")]
pub(super) struct ApertureTable {
    /// Numerical aperture that the iris is set to; a smaller lens limits it further.
    pub(super) na: Number<NumericalAperture>,
}

/// The eye or camera that looks at a stack without an objective.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "View")]
pub(super) struct ViewTable {
    /// Its numerical aperture.
    pub(super) na: Number<ViewAperture>,
}

/// Stray light.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Stray")]
pub(super) struct StrayTable {
    /// Fraction of the light that parallel polars pass which reaches the image unpolarized.
    pub(super) fraction: Number<Fraction>,
}

/// What readings at the bench left in doubt.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Doubt")]
pub(super) struct DoubtTable {
    /// File with a row for each stand that explains the readings, as `polstack fit --write` writes it.
    pub(super) sample: Located<String>,
}

/// The wavelengths that are computed.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Spectrum")]
pub(super) struct SpectrumTable {
    /// The first, nm; 380 where it is left out.
    pub(super) from_nm: Option<Number<Wavelength>>,
    /// The last, nm; 780 where it is left out.
    pub(super) to_nm: Option<Number<Wavelength>>,
    /// The step, nm; 5 where it is left out.
    pub(super) step_nm: Option<Number<WavelengthStep>>,
}

/// One part: a name and one table that says its kind.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Part", extend("oneOf" = one_kind()))]
pub(super) struct PartTable {
    /// The name that answers use; no two parts share one.
    #[schemars(length(min = 1, max = 80))]
    pub(super) name: Located<String>,
    /// A polarizer below the specimen.
    pub(super) polarizer: Option<Located<PolarizerTable>>,
    /// A retarder that is always in.
    pub(super) retarder: Option<Located<RetarderTable>>,
    /// An accessory plate: answers are given with it out and in.
    pub(super) plate: Option<Located<RetarderTable>>,
    /// The condenser.
    pub(super) condenser: Option<Located<LensTable>>,
    /// Slide, mount and cover glass.
    pub(super) slide: Option<Located<SlideTable>>,
    /// What is looked at.
    pub(super) specimen: Option<Located<SpecimenTable>>,
    /// The objective.
    pub(super) objective: Option<Located<LensTable>>,
    /// The analyzer.
    pub(super) analyzer: Option<Located<PolarizerTable>>,
    /// Strain in the glass of a condenser or objective, the profile that is crossed first standing first.
    #[schemars(length(max = 32))]
    pub(super) strain: Option<Located<Vec<Located<StrainTable>>>>,
    /// How the strain's path difference scales with wavelength; the same at all where it is left out.
    pub(super) strain_dispersion: Option<Located<DispersionTable>>,
    /// How far the part may be off; for tolerance studies; `predict` does not read it.
    pub(super) tolerance: Option<Located<ToleranceTable>>,
}

/// A sheet polarizer.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Polarizer")]
pub(super) struct PolarizerTable {
    /// A sheet of the catalog by name, or its principal transmittances. "ideal" is k1 = 1, k2 = 0 and no surfaces.
    #[schemars(extend("examples" = catalog::names("sheet")))]
    pub(super) sheet: Located<NameOr<SheetTable>>,
    /// Refractive index of the film; the catalog's, or 1.5, where it is left out.
    pub(super) index: Option<Number<RefractiveIndex>>,
    /// Out-of-plane path difference of the protective film on either side of the dyed layer, nm; where it is left out the catalog's, and 0 for
    /// the ideal sheet and for one told by its k1 and k2. 40 to 60 is usual. Oblique rays between this sheet and the specimen see it.
    pub(super) cover_nm: Option<Number<CoverPathDifference>>,
    /// Azimuth of the passed vibration, degrees counter-clockwise from East.
    pub(super) azimuth_deg: Number<Angle>,
    /// Medium that joins the sheet to the slide right above it: "oil", "water" or an index; left out where it lies free.
    #[schemars(extend("examples" = catalog::names("immersion")))]
    pub(super) contact: Option<Located<NameOr<Limited<RefractiveIndex>>>>,
}

/// Principal transmittances of a sheet: constant or a table.
#[derive(Debug, Clone, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Sheet")]
pub(super) struct SheetTable {
    /// Transmittance of the passed vibration, in air, surfaces included.
    pub(super) k1: Option<Number<Transmittance>>,
    /// Transmittance of the absorbed vibration; not above k1.
    pub(super) k2: Option<Number<Transmittance>>,
    /// File with the columns wavelength_nm,k1,k2; relative to the scenario's folder.
    pub(super) csv: Option<Located<String>>,
}

impl InPlaceOfName for SheetTable {
    fn words() -> String {
        "a table: { k1, k2 } or { csv }".into()
    }
}

/// A retarder or accessory plate.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Retarder")]
pub(super) struct RetarderTable {
    /// Path difference, nm, at the wavelength `at_nm`.
    pub(super) path_difference_nm: Number<PathDifference>,
    /// The wavelength for which the path difference is stated, nm; 550 where it is left out.
    pub(super) at_nm: Option<Number<Wavelength>>,
    /// A birefringent material of the catalog; "none", or left out, is a path difference constant in wavelength.
    #[schemars(extend("examples" = catalog::names("plate")))]
    pub(super) material: Option<Located<String>>,
    /// Azimuth of the slow axis, degrees counter-clockwise from East.
    pub(super) azimuth_deg: Number<Angle>,
}

/// A condenser or objective.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Lens")]
pub(super) struct LensTable {
    /// Full numerical aperture; below the immersion's index. With a prescription it may be left out, or says how far the lens is stopped down.
    pub(super) na: Option<Number<NumericalAperture>>,
    /// Medium between lens and slide: "air", "water", "oil" or an index; "air" where it is left out.
    #[schemars(extend("examples" = catalog::names("immersion")))]
    pub(super) immersion: Option<Located<NameOr<Limited<RefractiveIndex>>>>,
    /// Number of glass-air surfaces, taken to share the bending equally, which is the best case; 0 or "ideal" makes the lens the identity. May be
    /// left out where the coating is ideal. Real lenses leak as if they had fewer: a condenser of two lenses acts like 2.5 to 3.6 surfaces, a
    /// simple achromat like 3 to 4, a flat-field objective like 1 to 2.
    pub(super) surfaces: Option<Located<NameOr<Limited<Surfaces>>>>,
    /// In place of `surfaces`: by how many degrees each glass-air surface bends the ray at the full NA, with its sign, in the order of the light.
    pub(super) bending_deg: Option<Located<Vec<Number<Bending>>>>,
    /// In place of `surfaces`: the surfaces themselves.
    pub(super) prescription: Option<Located<PrescriptionTable>>,
    /// A glass of the catalog by name, or its index; may be left out where the surfaces are ideal, and with a prescription, which has its own.
    #[schemars(extend("examples" = catalog::names("glass")))]
    pub(super) glass: Option<Located<NameOr<Limited<RefractiveIndex>>>>,
    /// What covers the surfaces; "none" where it is left out.
    pub(super) coating: Option<Located<CoatingWord>>,
}

/// A lens told by its surfaces.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Prescription")]
pub(super) struct PrescriptionTable {
    /// File with the columns radius_mm,thickness_mm,glass,half_diameter_mm and, where needed, conic,a4,a6,a8,a10,coating; a condenser's rows run
    /// from the lamp to the slide, an objective's from the slide to the eye. Relative to the scenario's folder.
    pub(super) csv: Located<String>,
}

/// What covers the surfaces of a lens.
#[derive(Debug, Clone, Copy, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(super) enum CoatingWord {
    /// Bare glass.
    None,
    /// One quarter-wave layer of magnesium fluoride.
    Mgf2,
    /// Passes both vibrations whole.
    Ideal,
}

/// Slide, mount and cover glass.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Slide")]
pub(super) struct SlideTable {
    /// Slide and cover glass: a glass of the catalog by name, or its index.
    #[schemars(extend("examples" = catalog::names("glass")))]
    pub(super) glass: Located<NameOr<Limited<RefractiveIndex>>>,
    /// Mounting medium: a glass or immersion medium of the catalog by name, or its index.
    #[schemars(extend("examples" = catalog::names("immersion")))]
    pub(super) mount: Located<NameOr<Limited<RefractiveIndex>>>,
}

/// A birefringent specimen: { path_difference_nm, azimuth_deg }, { object, azimuth_deg }, { material, thickness_um, azimuth_deg } for a crystal with one
/// optic axis, with axis_from_normal_deg where that axis leans, or { material, thickness_um, normal, azimuth_deg } for a crystal with two.
#[derive(Debug, JsonSchema)]
#[schemars(
    deny_unknown_fields,
    rename = "Specimen",
    extend("anyOf" = [{ "required": ["azimuth_deg"] }, { "required": ["cut"] }])
)]
pub(super) struct SpecimenTable {
    /// Path difference, nm, the same for every ray and wavelength; below 0 where the slow direction is at right angles to azimuth_deg.
    pub(super) path_difference_nm: Option<Number<PathDifference>>,
    /// An elongated object of the catalog: it has the middle of its typical path differences, and azimuth_deg is that of its length.
    #[schemars(extend("examples" = object_names()))]
    pub(super) object: Option<Located<String>>,
    /// A crystal of the catalog.
    #[schemars(extend("examples" = crystal_names()))]
    pub(super) material: Option<Located<String>>,
    /// In place of a material: the three principal indices of a crystal with two optic axes, rising.
    #[schemars(length(equal = 3))]
    pub(super) indices: Option<Located<Vec<Number<RefractiveIndex>>>>,
    /// The acute angle between the optic axes, degrees, in place of the catalog's; the middle index follows from it.
    pub(super) two_v_deg: Option<Number<OpticAngle>>,
    /// Of a crystal with two optic axes, which axis of the indicatrix stands upright (the index rises from "x" to "z"), or the components of the
    /// plate's normal along these axes: [x, y, z], of any length.
    pub(super) normal: Option<Located<Normal>>,
    /// Its thickness, micrometres.
    pub(super) thickness_um: Option<Number<Thickness>>,
    /// How a crystal with one optic axis is cut; "along" where it is left out.
    pub(super) cut: Option<Located<CutWord>>,
    /// In place of `cut`, for a crystal with one optic axis that leans: the angle between this axis and the plate's normal, degrees, 0 where it stands
    /// upright and 90 where it lies in the plate. azimuth_deg is then that of the axis' upper end.
    pub(super) axis_from_normal_deg: Option<Number<AxisAngle>>,
    /// Of an optically active crystal that is cut across its axis or askew: which way it turns light; "right" where it is left out.
    pub(super) rotation: Option<Located<RotationWord>>,
    /// Azimuth of the slow direction, of the object's length, or of the optic axis of a crystal with one (of its upper end, where it leans); for a tilted normal, of Z as it is seen in
    /// the plate. Degrees counter-clockwise from East; left out where the cut is "across".
    pub(super) azimuth_deg: Option<Number<Angle>>,
}

fn object_names() -> Vec<&'static str> {
    catalog::elongated_objects()
        .map(|object| object.name)
        .collect()
}

fn crystal_names() -> Vec<&'static str> {
    let groups = ["crystal", "biaxial crystal"].map(catalog::names);
    groups.into_iter().flatten().collect()
}

/// Components of a plate's normal along X, Y and Z: written as the axis that it is, or as numbers.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Normal {
    Axis([f64; 3]),
    Components(Vec<f64>),
}

const NORMAL_WORDS: [&str; 3] = ["x", "y", "z"];

impl FromToml for Normal {
    fn from_toml(value: Found<'_>) -> Result<Self, Fault> {
        match value.get_ref() {
            DeValue::String(_) => {
                let axes = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
                let words: Vec<_> = NORMAL_WORDS.into_iter().zip(axes).collect();
                word(value, &words).map(Self::Axis)
            }
            DeValue::Array(_) => {
                let components = Vec::<Limited<NormalComponent>>::from_toml(value)?;
                let components = components.into_iter().map(Limited::value);
                Ok(Self::Components(components.collect()))
            }
            _ => Err(mistyped(
                value,
                "\"x\", \"y\", \"z\" or three components: [x, y, z]",
            )),
        }
    }
}

impl JsonSchema for Normal {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Normal".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let component = Limited::<NormalComponent>::json_schema(generator);
        json_schema!({ "anyOf": [
            { "enum": NORMAL_WORDS },
            { "type": "array", "items": component, "minItems": 3, "maxItems": 3 },
        ] })
    }
}

/// Which way an optically active crystal turns light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(super) enum RotationWord {
    /// Clockwise as the eye sees it.
    Right,
    /// Counter-clockwise.
    Left,
    /// Not at all, which no such crystal does: to see what the rotation changes.
    None,
}

/// How a crystal is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(super) enum CutWord {
    /// Its optic axis lies in the plane of the stage.
    Along,
    /// Its optic axis stands along the microscope's.
    Across,
}

/// One strain profile.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Strain", extend("minProperties" = 1, "maxProperties" = 1))]
pub(super) struct StrainTable {
    /// The same everywhere.
    pub(super) uniform: Option<Located<UniformTable>>,
    /// Growing with the square of the radius: what uneven cooling leaves in moulded glass.
    pub(super) radial: Option<Located<RadialTable>>,
    /// Equal radial forces on the rim, equally spaced: force fit, set screws, flexure contacts.
    pub(super) clamp: Option<Located<ClampTable>>,
    /// A measured map.
    pub(super) map: Option<Located<MapTable>>,
}

/// The same strain everywhere.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Uniform")]
pub(super) struct UniformTable {
    /// Path difference, nm.
    pub(super) path_difference_nm: Number<StrainPathDifference>,
    /// Azimuth of the slow axis, degrees counter-clockwise from East.
    pub(super) azimuth_deg: Number<Angle>,
}

/// Strain that grows with the square of the radius.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Radial")]
pub(super) struct RadialTable {
    /// Path difference at the rim, nm.
    pub(super) edge_nm: Number<StrainPathDifference>,
    /// Which way the slow axis lies; "radial" where it is left out.
    pub(super) slow: Option<Located<SlowWord>>,
    /// Along what the strain is taken: "axis", the square of the radius, where it is left out; "ray", along each ray through a lens with a
    /// prescription, `edge_nm` being what a ray along the axis at the rim reads.
    pub(super) along: Option<Located<AlongWord>>,
}

/// Along what a radial strain is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(super) enum AlongWord {
    /// Along the axis, whichever way the ray goes.
    Axis,
    /// Along the ray.
    Ray,
}

/// Sense of a radial strain's slow axis.
#[derive(Debug, Clone, Copy, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(super) enum SlowWord {
    /// Along the radius.
    Radial,
    /// Along the rim.
    Tangential,
}

/// Equal radial forces on the rim of a disc.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Clamp")]
pub(super) struct ClampTable {
    /// Number of contacts.
    pub(super) contacts: Number<Contacts>,
    /// Force of each, N, inward.
    pub(super) force_n: Number<Force>,
    /// Diameter of the disc, mm.
    pub(super) diameter_mm: Number<Diameter>,
    /// Azimuth of the first contact, degrees; the others follow counter-clockwise. 0 where it is left out.
    pub(super) azimuth_deg: Option<Number<Angle>>,
    /// Stress-optic coefficient, Brewster (1e-12 / Pa); the glass' own where it is left out.
    pub(super) stress_optic_brewster: Option<Number<StressOptic>>,
}

/// A measured strain map.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Map")]
pub(super) struct MapTable {
    /// File with the columns x,y,path_difference_nm,azimuth_deg, x and y as fractions of the full aperture; relative to
    /// the scenario's folder.
    pub(super) csv: Located<String>,
    /// Whose strain it is: "lens", that of its own lens, where it is left out; "sum", that of all lenses between the polars together, as photographs
    /// of the back focal plane show it.
    pub(super) of: Option<Located<MapOfWord>>,
}

/// Whose strain a map is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(super) enum MapOfWord {
    /// That of its own lens.
    Lens,
    /// That of all lenses between the polars.
    Sum,
}

/// How a strain's path difference scales with wavelength.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "StrainDispersion")]
pub(super) struct DispersionTable {
    /// File with the columns wavelength_nm,factor; relative to the scenario's folder.
    pub(super) csv: Located<String>,
}

/// How far a part may be off.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Tolerance")]
pub(super) struct ToleranceTable {
    /// Of its azimuth, degrees.
    pub(super) azimuth_deg: Option<Number<AngleTolerance>>,
    /// Of its path difference, nm.
    pub(super) path_difference_nm: Option<Number<PathDifferenceTolerance>>,
    /// What the numbers mean; "normal" where it is left out.
    pub(super) distribution: Option<Located<DistributionWord>>,
}

/// What a tolerance's number means.
#[derive(Debug, Clone, Copy, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(super) enum DistributionWord {
    /// One standard deviation of a normal distribution.
    Normal,
    /// Half the width of a uniform distribution.
    Uniform,
}

tables! {
    ScenarioFile { title, light, aperture, view, stray, doubt, lesson, spectrum, part }
    LightTable { source, stokes }
    SourceTable { blackbody_k, line_nm, width_nm, csv }
    ApertureTable { na }
    ViewTable { na }
    StrayTable { fraction }
    DoubtTable { sample }
    SpectrumTable { from_nm, to_nm, step_nm }
    PartTable { name, polarizer, retarder, plate, condenser, slide, specimen, objective, analyzer, strain, strain_dispersion, tolerance }
    PolarizerTable { sheet, index, cover_nm, azimuth_deg, contact }
    SheetTable { k1, k2, csv }
    RetarderTable { path_difference_nm, at_nm, material, azimuth_deg }
    LensTable { na, immersion, surfaces, bending_deg, prescription, glass, coating }
    PrescriptionTable { csv }
    SlideTable { glass, mount }
    SpecimenTable { path_difference_nm, object, material, indices, two_v_deg, normal, thickness_um, cut, axis_from_normal_deg, rotation, azimuth_deg }
    StrainTable { uniform, radial, clamp, map }
    UniformTable { path_difference_nm, azimuth_deg }
    RadialTable { edge_nm, slow, along }
    ClampTable { contacts, force_n, diameter_mm, azimuth_deg, stress_optic_brewster }
    MapTable { csv, of }
    DispersionTable { csv }
    ToleranceTable { azimuth_deg, path_difference_nm, distribution }
}

words! {
    CoatingWord { None, Mgf2, Ideal }
    RotationWord { Right, Left, None }
    CutWord { Along, Across }
    AlongWord { Axis, Ray }
    SlowWord { Radial, Tangential }
    MapOfWord { Lens, Sum }
    DistributionWord { Normal, Uniform }
}

/// Tables of a scenario as they are written, each with its keys.
const WRITTEN: [(&str, &[&str]); 15] = [
    ("on a line of its own in [[part]]", PartTable::KEYS),
    ("in [light]", LightTable::KEYS),
    (
        "in source = { ... }",
        &["blackbody_k", "line_nm", "width_nm"],
    ),
    ("in [aperture]", ApertureTable::KEYS),
    ("in [view]", ViewTable::KEYS),
    ("in [stray]", StrayTable::KEYS),
    ("in [spectrum]", SpectrumTable::KEYS),
    ("in [doubt]", DoubtTable::KEYS),
    ("in polarizer or analyzer = { ... }", PolarizerTable::KEYS),
    ("in sheet = { k1 = ..., k2 = ... }", &["k1", "k2"]),
    ("in plate or retarder = { ... }", RetarderTable::KEYS),
    ("in condenser or objective = { ... }", LensTable::KEYS),
    ("in slide = { ... }", SlideTable::KEYS),
    ("in specimen = { ... }", SpecimenTable::KEYS),
    ("in strain = [ { ... } ]", StrainTable::KEYS),
];

/// The same within a list of strain profiles.
const PROFILES: [(&str, &[&str]); 3] = [
    ("in uniform = { ... }", UniformTable::KEYS),
    ("in radial = { ... }", RadialTable::KEYS),
    ("in clamp = { ... }", ClampTable::KEYS),
];

/// Where a key belongs that does not belong in the table in which it stands.
pub(super) fn where_written(table: &str, key: &str) -> Option<String> {
    let among = |tables: &[(&'static str, &[&str])]| -> Vec<&'static str> {
        let found = tables.iter().filter(|(_, keys)| keys.contains(&key));
        found.map(|(table, _)| *table).collect()
    };
    let profiles = among(&PROFILES);
    let tables = match among(&WRITTEN) {
        _ if table.contains(".strain") && !profiles.is_empty() => profiles,
        tables if tables.is_empty() => profiles,
        tables => tables,
    };
    (!tables.is_empty()).then(|| tables.join(", or "))
}

fn one_kind() -> Value {
    KINDS
        .iter()
        .map(|kind| json!({ "required": [kind] }))
        .collect()
}

/// The JSON Schema of a scenario file, for editors that complete and check TOML.
#[must_use]
pub fn json_schema() -> Value {
    SchemaSettings::draft07()
        .with_transform(RecursiveTransform(WithoutNull))
        .into_generator()
        .into_root_schema_for::<ScenarioFile>()
        .into()
}

/// TOML has no null: a key that may be left out is left out.
#[derive(Clone)]
struct WithoutNull;

impl Transform for WithoutNull {
    fn transform(&mut self, schema: &mut Schema) {
        if let Some(Value::Array(types)) = schema.get_mut("type") {
            types.retain(|kind| kind != "null");
            if let [only] = &types[..] {
                let only = only.clone();
                schema.insert("type".into(), only);
            }
        }
        if let Some(Value::Array(choices)) = schema.get_mut("anyOf") {
            choices.retain(|choice| choice.get("type").is_none_or(|kind| kind != "null"));
            if let [only] = &choices[..] {
                let only = only.clone();
                schema.remove("anyOf");
                if let Value::Object(only) = only {
                    for (key, value) in only {
                        // What the key says of itself counts, not what its type says.
                        if schema.get(&key).is_none() {
                            schema.insert(key, value);
                        }
                    }
                }
            }
        }
        if let Some(Value::Array(words)) = schema.get_mut("enum") {
            words.retain(|word| !word.is_null());
        }
    }
}
