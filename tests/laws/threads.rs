//! Same input, same bytes.

use polstack::optics::Rays;
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::predict::{leak_map, predict};

use crate::routes::everything;
use crate::scene::scene_of;

/// In a text that gives every number back exactly.
fn answers(threads: usize) -> String {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .unwrap();
    pool.install(|| {
        let path = everything(true);
        let source = Source::named("led-b3").unwrap();
        let grid = WavelengthGrid::new(380.0, 780.0, 10.0).unwrap();
        let prediction = predict(&scene_of(&path, &source, &grid)).unwrap();
        let map = leak_map(
            &scene_of(&path, &source, &grid),
            &Rays::disc(path.na(), 8, 24),
        )
        .unwrap();
        format!("{prediction:?} {map:?}")
    })
}

#[test]
fn the_number_of_threads_changes_no_bit() {
    let one = answers(1);
    assert!(one.contains("extinction_ratio: Some"));
    for threads in [2, 3] {
        assert_eq!(answers(threads), one, "{threads} threads");
    }
}
