//! The kernel, the plain Jones route and the Mueller route are one physics.

use polstack::calculus::{Mueller, Stokes};
use polstack::light_path::{LightPath, PartKind, Setting, reference, run};
use polstack::material::{Index, Uniaxial, catalog};
use polstack::optics::{
    AskewPlate, BiaxialPlate, Coating, RadialSlow, Rays, Specimen, Strain, StrainMap,
};

use crate::common::close;
use crate::paths::{analyzer, lens, part, polarizer, retarder, sheet, slide, stack};

const WAVELENGTHS_NM: [f64; 11] = [
    380.0, 412.0, 450.0, 488.0, 500.0, 546.1, 560.0, 600.0, 650.0, 700.0, 780.0,
];

/// One stack with every kind of part and of strain in it.
pub(crate) fn everything(sheet_above: bool) -> LightPath {
    let map: Vec<_> = (0..25)
        .map(|k| {
            let (x, y) = (f64::from(k % 5) / 2.0 - 1.0, f64::from(k / 5) / 2.0 - 1.0);
            (x, y, 3.0 + 2.0 * x * y, 0.4 * x - 0.2 * y)
        })
        .collect();
    let clamp = Strain::Clamp {
        contacts: 3,
        force_n: 6.0,
        diameter_mm: 22.0,
        first_azimuth_rad: 0.3,
        stress_optic_brewster: 2.75,
    };
    let radial = Strain::Radial {
        edge_nm: 30.0,
        slow: RadialSlow::Tangential,
        along: polstack::optics::RadialAlong::Axis,
    };
    let uniform = Strain::Uniform {
        path_difference_nm: 4.0,
        slow_azimuth_rad: 0.7,
    };
    let crystal = Specimen::Plate {
        crystal: Uniaxial {
            name: "invented".to_owned(),
            ordinary: Index::Constant(1.54),
            extraordinary: Index::Powers(vec![(1.545, 0), (0.002, -2)]),
            rotation: None,
        },
        thickness_um: 20.0,
        axis_azimuth_rad: 0.5,
    };
    let strained = vec![clamp, radial, Strain::Map(StrainMap::new(&map).unwrap())];
    let mut parts = vec![
        polarizer(sheet(0.75, 3e-5), 2.0),
        part(
            "condenser",
            PartKind::Condenser(lens(0.8, 5, Coating::None, strained)),
        ),
        part("retarder", PartKind::Retarder(retarder(20.0, 50.0))),
        slide(),
        part("crystal", PartKind::Specimen(crystal)),
        part(
            "stated",
            PartKind::Specimen(Specimen::Stated {
                path_difference_nm: 60.0,
                slow_azimuth_rad: 1.1,
            }),
        ),
        part(
            "objective",
            PartKind::Objective(lens(0.65, 6, Coating::Mgf2, vec![uniform])),
        ),
        part("plate", PartKind::Plate(retarder(550.0, 47.0))),
        analyzer(sheet(0.8, 1e-4), 91.0),
    ];
    if sheet_above {
        parts.swap(0, 1);
    }
    let mut path = stack(0.65, parts);
    path.lamp = Stokes([1.0, 0.2, -0.1, 0.3]);
    path
}

/// The same with crystals in front of the objective: one cut across its axis, one that turns light besides, two cut askew to their axis, and one
/// with two axes cut askew.
pub(crate) fn with_section(sheet_above: bool) -> LightPath {
    let mut path = everything(sheet_above);
    let section = Specimen::Across {
        crystal: Uniaxial {
            name: "invented".to_owned(),
            ordinary: Index::Constant(1.66),
            extraordinary: Index::Powers(vec![(1.48, 0), (0.003, -2)]),
            rotation: None,
        },
        thickness_um: 25.0,
    };
    let active = Specimen::Across {
        crystal: catalog::crystal("quartz").unwrap(),
        thickness_um: 300.0,
    };
    let leaning = |name: &str, thickness_um: f64| {
        Specimen::Askew(AskewPlate {
            crystal: catalog::crystal(name).unwrap(),
            thickness_um,
            axis_from_normal_rad: 0.45,
            azimuth_rad: 2.3,
        })
    };
    let oblique = Specimen::Biaxial(BiaxialPlate {
        crystal: catalog::biaxial("lbo").unwrap(),
        thickness_um: 12.0,
        normal: [0.5, -0.3, 0.7],
        azimuth_rad: -0.9,
    });
    let objective = (path.parts.iter()).position(|part| part.name == "objective");
    for (name, specimen) in [
        ("section", section),
        ("active section", active),
        ("active askew", leaning("quartz", 40.0)),
        ("askew", leaning("calcite", 3.0)),
        ("oblique plate", oblique),
    ] {
        let specimen = part(name, PartKind::Specimen(specimen));
        path.parts.insert(objective.unwrap(), specimen);
    }
    path
}

#[test]
fn kernel_and_plain_matrices_agree() {
    for sheet_above in [false, true] {
        let path = with_section(sheet_above);
        let rays = Rays::disc(path.na(), 5, 14);
        let fields = run::fields(&path, &rays, &WAVELENGTHS_NM, &[1.0; 11]).unwrap();
        let setting = |plates, specimens, analyzer_azimuth_rad| Setting {
            plates,
            specimens,
            analyzer_azimuth_rad,
        };
        for (k, &nm) in WAVELENGTHS_NM.iter().enumerate() {
            let plain = |setting| {
                let whole = 0..path.parts.len();
                let m = reference::mean_mueller(&path, whole, setting, &rays, nm).unwrap();
                m.apply(&path.lamp).0[0]
            };
            let parallel = plain(setting(false, false, Some(2f64.to_radians())));
            let crossed = plain(setting(false, true, None));
            let with_plate = plain(setting(true, true, None));
            close("parallel", fields.parallel[k], parallel, 1e-14);
            close("crossed", fields.crossed[k], crossed, 1e-14);
            let kernel = fields.crossed_with_plate.as_ref().unwrap()[k];
            close("crossed with plate", kernel, with_plate, 1e-14);
        }
    }
}

#[test]
fn amplitudes_and_mueller_matrices_give_the_same_light() {
    let path = with_section(true);
    let rays = Rays::disc(path.na(), 4, 10);
    let setting = Setting {
        plates: true,
        specimens: true,
        analyzer_azimuth_rad: None,
    };
    for nm in [400.0, 546.1, 700.0] {
        let whole = 0..path.parts.len();
        let coherent = reference::mean_mueller(&path, whole.clone(), setting, &rays, nm).unwrap();
        let incoherent =
            reference::mean_mueller_of_elements(&path, whole, setting, &rays, nm).unwrap();
        let off = (coherent.0 - incoherent.0).amax();
        close("largest difference of an element", off, 0.0, 1e-15);
        assert!(coherent.is_realisable(1e-12));
    }
}

#[test]
fn light_ray_by_ray_adds_up_to_the_mean() {
    let path = with_section(true);
    let rays = Rays::disc(path.na(), 5, 12);
    let weight: Vec<f64> = (1..=11).map(f64::from).collect();
    let each = run::crossed_rays(&path, &rays, &WAVELENGTHS_NM, &weight).unwrap();
    let mean: f64 = each
        .iter()
        .zip(rays.iter())
        .map(|(light, (_, w))| light * w)
        .sum();
    let fields = run::fields(&path, &rays, &WAVELENGTHS_NM, &weight).unwrap();
    let expected: f64 = fields.crossed.iter().zip(&weight).map(|(t, w)| t * w).sum();
    close("summed light", mean, expected, 1e-13 * expected);
}

/// Crossed polars with the specimens in and the plates out.
const PLATES_OUT: Setting = Setting {
    plates: false,
    specimens: true,
    analyzer_azimuth_rad: None,
};

/// The kernel's light of each ray is that of plain matrices.
fn agree_ray_by_ray(path: &LightPath, rays: &Rays, nm: f64) {
    let each = run::crossed_rays(path, rays, &[nm], &[1.0]).unwrap();
    for ((ray, _), got) in rays.iter().zip(each) {
        let whole = 0..path.parts.len();
        let jones = reference::jones(path, whole, PLATES_OUT, ray, nm).unwrap();
        let expected = Mueller::from_jones(&jones).apply(&path.lamp).0[0];
        close(&format!("{ray:?} at {nm} nm"), got, expected, 1e-14);
    }
}

/// The kernel runs one ray of each two opposite ones where half a turn leaves every part as it is, and plain matrices run all: they agree for parts that half a turn
/// leaves alike, and with each part that it does not.
#[test]
fn half_of_the_rays_do_where_half_a_turn_changes_nothing() {
    let whole = with_section(true);
    let is_twofold = |path: &LightPath| (0..path.parts.len()).all(|part| path.is_twofold(part));
    let mut alike = whole.clone();
    alike
        .parts
        .retain(|part| !matches!(&part.kind, PartKind::Specimen(own) if !own.is_twofold()));
    for part in &mut alike.parts {
        if let PartKind::Condenser(lens) | PartKind::Objective(lens) = &mut part.kind {
            for strain in &mut lens.strain {
                if let Strain::Clamp { contacts, .. } = strain {
                    *contacts = 4;
                }
            }
            lens.strain.retain(Strain::is_twofold);
        }
    }
    let kinds = |path: &LightPath| {
        (path.parts.iter())
            .filter(|part| matches!(part.kind, PartKind::Specimen(_)))
            .count()
    };
    assert!(is_twofold(&alike) && kinds(&alike) > 2, "{}", kinds(&alike));
    let mut paths = vec![alike.clone()];
    for (index, part) in whole.parts.iter().enumerate() {
        match &part.kind {
            _ if whole.is_twofold(index) => {}
            PartKind::Specimen(_) => {
                let mut one = alike.clone();
                let objective = one.parts.iter().position(|part| part.name == "objective");
                one.parts.insert(objective.unwrap(), part.clone());
                paths.push(one);
            }
            PartKind::Condenser(lens) | PartKind::Objective(lens) => {
                for strain in lens.strain.iter().filter(|strain| !strain.is_twofold()) {
                    let mut one = alike.clone();
                    let own = one
                        .parts
                        .iter_mut()
                        .find(|own| own.name == part.name)
                        .unwrap();
                    if let PartKind::Condenser(lens) | PartKind::Objective(lens) = &mut own.kind {
                        lens.strain.push(strain.clone());
                    }
                    paths.push(one);
                }
            }
            _ => {}
        }
    }
    assert!(
        paths.len() > 5 && paths[1..].iter().all(|path| !is_twofold(path)),
        "{}",
        paths.len()
    );
    for path in paths {
        let rays = Rays::disc(path.na(), 3, 6);
        let half = rays.one_of_opposites().unwrap();
        let mut most = 0.0f64;
        for nm in [412.0, 546.1, 650.0] {
            let plain = |rays: &Rays| {
                let whole = 0..path.parts.len();
                let m = reference::mean_mueller(&path, whole, PLATES_OUT, rays, nm).unwrap();
                m.apply(&path.lamp).0[0]
            };
            let all = plain(&rays);
            let mean = run::fields(&path, &rays, &[nm], &[1.0]).unwrap().crossed[0];
            close("mean", mean, all, 1e-13 * all);
            agree_ray_by_ray(&path, &rays, nm);
            most = most.max((plain(&half) / all - 1.0).abs());
        }
        // Where half a turn changes a part, half of the rays have another mean: the kernel took all of them.
        assert_eq!(most > 1e-8, !is_twofold(&path), "{most:e}");
    }
}

/// The mean cannot tell a pupil from one turned by 180 degrees unless two parts are lopsided; single rays can.
#[test]
fn kernel_and_plain_matrices_agree_ray_by_ray() {
    for sheet_above in [false, true] {
        let path = with_section(sheet_above);
        let rays = Rays::disc(path.na(), 3, 10);
        for nm in [412.0, 650.0] {
            agree_ray_by_ray(&path, &rays, nm);
        }
    }
}
