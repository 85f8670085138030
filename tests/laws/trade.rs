//! Facts of the trade: common practice at the bench, without a source. What a microscopist expects must come out.

use polstack::color::Background;
use polstack::light_path::{LightPath, Part, PartKind};
use polstack::material::{PolarizingSheet, catalog};
use polstack::optics::{Coating, Lens, RadialSlow, Specimen, Strain};
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::predict::{Prediction, predict};

use polstack::study::quantity::{Quantity, QuantityKind};
use polstack::study::tolerate::{Limit, Limits, Profile, See, Subject, Target, tolerate, verdict};

use crate::common::close;
use crate::paths::{
    analyzer, ideal_sheet, lens, lens_pair, part, polarizer, slide, stack, uniform,
};
use crate::scene::scene_of;

fn seen(path: &LightPath, lamp: &str) -> Prediction {
    let source = Source::named(lamp).unwrap();
    let grid = WavelengthGrid::new(380.0, 780.0, 10.0).unwrap();
    predict(&scene_of(path, &source, &grid)).unwrap()
}

fn extinction(path: &LightPath) -> f64 {
    seen(path, "led-b3").extinction_ratio.expect("a leak")
}

fn iodine(name: &str) -> PolarizingSheet {
    catalog::sheet(name).expect("a catalogued sheet")
}

/// Moulded glass: 40 nm at the rim of a condenser of NA 0.25.
fn moulded(sheet_above: bool) -> LightPath {
    let strain = Strain::Radial {
        edge_nm: 40.0,
        slow: RadialSlow::Tangential,
        along: polstack::optics::RadialAlong::Axis,
    };
    let mut parts = vec![
        polarizer(iodine("iodine-dense"), 0.0),
        part(
            "condenser",
            PartKind::Condenser(lens(0.25, 4, Coating::None, vec![strain])),
        ),
        slide(),
        part(
            "objective",
            PartKind::Objective(lens(0.25, 4, Coating::Mgf2, Vec::new())),
        ),
        analyzer(iodine("iodine-dense"), 90.0),
    ];
    if sheet_above {
        parts.swap(0, 1);
    }
    stack(0.25, parts)
}

/// The usual remedy for a plastic or moulded condenser: lay the lower sheet on top of it.
#[test]
fn a_sheet_above_a_moulded_condenser_restores_extinction() {
    let (below, above) = (extinction(&moulded(false)), extinction(&moulded(true)));
    assert!(below < 300.0, "{below}");
    assert!(above > 5e3, "{above}");
    // What is left above is no longer strain: an unstrained condenser does as well.
    let mut unstrained = moulded(true);
    if let PartKind::Condenser(Lens { strain, .. }) = &mut unstrained.parts[0].kind {
        strain.clear();
    }
    close(
        "strained over unstrained",
        above / extinction(&unstrained),
        1.0,
        1e-3,
    );
}

fn pair(sheet: &str) -> LightPath {
    let mut parts = vec![polarizer(iodine(sheet), 0.0)];
    parts.extend(lens_pair(0.1, [Vec::new(), Vec::new()]));
    parts.push(analyzer(iodine(sheet), 90.0));
    stack(0.1, parts)
}

/// The darkest sheet leaks too little blue for that: beside its own yellow-green bright field it is a greyish purple.
#[test]
fn crossed_iodine_sheets_look_blue_or_violet() {
    let lamps = ["cie-d65", "cie-a", "led-b3"];
    for (sheet, words) in [
        ("iodine-dense", &["purple"][..]),
        ("iodine-medium", &["violet", "blue"]),
        ("iodine-pale", &["blue"]),
    ] {
        for lamp in lamps {
            let Background { name, srgb, .. } = seen(&pair(sheet), lamp).background.without_plate;
            let said = words.iter().any(|word| name.ends_with(word));
            assert!(said, "{sheet} under {lamp}: {name} {srgb}");
        }
    }
}

/// The better the sheet is at absorbing, the darker the pair; the paler the sheet, the more blue it lets by.
#[test]
fn dark_sheets_extinguish_best_and_pale_ones_leak_blue() {
    let of = |sheet| seen(&pair(sheet), "cie-d65");
    let [dark, middle, pale] = ["iodine-dense", "iodine-medium", "iodine-pale"].map(of);
    let ratio = |seen: &Prediction| seen.extinction_ratio.unwrap();
    assert!(ratio(&dark) > 5.0 * ratio(&middle) && ratio(&middle) > 5.0 * ratio(&pale));
    let x = |seen: &Prediction| seen.background.without_plate.xy.unwrap()[0];
    assert!(x(&dark) > x(&middle) && x(&middle) > x(&pale));
}

/// `sin^2(pi Gamma/lambda)` of a few nm is as good as `(pi Gamma/lambda)^2`: a bluish grey, whose chromaticity in daylight is
/// (0.2657, 0.2812) however little strain there is.
#[test]
fn a_few_nanometres_of_strain_show_as_bluish_grey() {
    for strain_nm in [1.0, 3.0, 6.0] {
        let mut parts = vec![polarizer(ideal_sheet(), 0.0)];
        parts.extend(lens_pair(
            0.25,
            [Vec::new(), vec![uniform(strain_nm, 45.0)]],
        ));
        parts.push(analyzer(ideal_sheet(), 90.0));
        let field = seen(&stack(0.25, parts), "cie-d65")
            .background
            .without_plate;
        let [x, y] = field.xy.unwrap();
        // 6 nm: the next term of the sine squared, (pi Gamma/lambda)^2/3, is 4e-4 of the first at 550 nm.
        close(&format!("x of {strain_nm} nm"), x, 0.2657, 1e-3);
        close(&format!("y of {strain_nm} nm"), y, 0.2812, 1e-3);
        assert!(
            field.name.ends_with("grey")
                || field.name.starts_with("greyish")
                || field.name.starts_with("pale"),
            "{}",
            field.name
        );
    }
}

/// A rock section between poor polars in a strained microscope, and between good ones in a good microscope.
fn with_specimen(good: bool, specimen: Option<Specimen>) -> LightPath {
    let (name, strain_nm, stray) = if good {
        ("iodine-dense", 0.0, 0.0)
    } else {
        ("iodine-medium", 4.0, 1e-3)
    };
    let [condenser, objective] = lens_pair(
        0.25,
        [
            vec![uniform(strain_nm, 20.0)],
            vec![uniform(strain_nm, 70.0)],
        ],
    );
    let specimen = specimen.map(|kind| part("specimen", PartKind::Specimen(kind)));
    let parts: Vec<Part> = [
        Some(polarizer(iodine(name), 0.0)),
        Some(condenser),
        specimen,
        Some(objective),
        Some(analyzer(iodine(name), 90.0)),
    ]
    .into_iter()
    .flatten()
    .collect();
    let mut path = stack(0.25, parts);
    path.stray_fraction = stray;
    path
}

/// Strain that ruins the dark field changes the grey of a quartz plate little: the plate is thousands of times brighter than
/// the background.
#[test]
fn a_strongly_birefringent_specimen_forgives_a_poor_background() {
    let quartz = || Specimen::Plate {
        crystal: catalog::crystal("quartz").unwrap(),
        thickness_um: 30.0,
        axis_azimuth_rad: 45f64.to_radians(),
    };
    let luminance = |good, specimen| {
        seen(&with_specimen(good, specimen), "led-b3")
            .background
            .without_plate
            .relative_luminance
    };
    let (good, poor) = (luminance(true, None), luminance(false, None));
    assert!(poor > 100.0 * good, "{poor:e} {good:e}");
    let (good, poor) = (
        luminance(true, Some(quartz())),
        luminance(false, Some(quartz())),
    );
    close("poor over good microscope", poor / good, 1.0, 0.03);
    // A weak specimen is lost in the same background: 3 nm, as a spindle has.
    let spindle = || Specimen::Stated {
        path_difference_nm: 3.0,
        slow_azimuth_rad: 45f64.to_radians(),
    };
    let (good, poor) = (
        luminance(true, Some(spindle())),
        luminance(false, Some(spindle())),
    );
    assert!(poor > 3.0 * good, "{poor:e} {good:e}");
}

/// A specimen that shows to an eye in the dark (contrast 0.1) and to an ordinary camera.
fn see(path_difference_nm: f64) -> Target {
    Target::See(See {
        path_difference_nm,
        with_plate: false,
        contrast: 0.1,
        color_difference: 2.0,
        full_well: Some(10_000.0),
        snr: 5.0,
    })
}

/// How much strain of a shape the objective of a shipped scenario may have at the worst azimuth.
fn tolerated(name: &str, profile: Profile, target: &Target) -> Limit {
    let file = format!("{}/scenarios/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let scene = polstack::scenario::read(file.as_ref()).unwrap().scene;
    let subject = Subject::of(&scene.path, Some("objective"), None, Some(profile)).unwrap();
    let answer = tolerate(&scene.with_path(subject.path), target, subject.quantity);
    match answer.unwrap().limits {
        Limits::Strain(strain) => strain.worst(),
        other => panic!("{other:?}"),
    }
}

/// Ordinary microscope optics have 10 nm/cm of strain over 20 to 30 mm of glass: 20 to 30 nm. With crystals of 100 nm that does
/// not matter, nor would many times as much; what lives and is thin, 1 nm, is lost in 30 nm of uneven strain.
#[test]
fn strong_crystals_tolerate_an_ordinary_objective_and_faint_structures_do_not() {
    for name in [
        "pond-life",
        "strained-objective",
        "sheet-above-condenser",
        "sheet-below-condenser",
        "oil-immersion",
        "high-grade-stand",
    ] {
        let strong = tolerated(name, Profile::Radial, &see(100.0));
        assert!(
            matches!(strong, Limit::Beyond(nm) if nm >= 190.0),
            "{name}: {strong:?}"
        );
        // A quarter wave of even strain leaves nothing of a specimen's own light.
        let even = tolerated(name, Profile::Uniform, &see(100.0)).value();
        assert!(even.is_some_and(|nm| nm > 100.0), "{name}: {even:?}");
        let faint = tolerated(name, Profile::Radial, &see(1.0));
        let hidden = match faint {
            Limit::Missed => true,
            Limit::At { value, .. } => value < 30.0,
            Limit::Beyond(_) => false,
        };
        assert!(hidden, "{name}: {faint:?}");
    }
}

/// Who compares two objectives by what they show must not be led to the strained one: 5 nm of even strain take from the extinction ratio, and
/// lend a specimen of 1 nm light at one azimuth that they take away at the other.
#[test]
fn an_even_strain_does_not_make_an_objective_better() {
    let file = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/scenarios/sheet-above-condenser.toml"
    );
    let scene = polstack::scenario::read(file.as_ref()).unwrap().scene;
    let verdict = |strain_nm: f64| {
        let profile = Some(Profile::Uniform);
        let subject = Subject::of(&scene.path, Some("objective"), None, profile).unwrap();
        let mut path = subject.quantity.with(&subject.path, strain_nm);
        let azimuth = Quantity {
            part: subject.quantity.part,
            kind: QuantityKind::StrainAzimuth { profile: 0 },
        };
        azimuth.set(&mut path, 45f64.to_radians());
        verdict(&scene.with_path(path), &see(1.0)).unwrap()
    };
    let (good, poor) = (verdict(0.0), verdict(5.0));
    assert!(poor.extinction_ratio.unwrap() < 0.9 * good.extinction_ratio.unwrap());
    assert!(poor.times < good.times, "{} {}", poor.times, good.times);
    let bias = poor.bias.unwrap();
    assert!(bias.with_bias > 0.1 && bias.turned < 0.0, "{bias:?}");
}
