//! Slides of made-up figures.

use super::*;
use crate::output::figure::look::{BODY, INK};

fn figure() -> Sheet {
    let sheet = Sheet::new("A title", (800.0, 600.0));
    sheet.text("A title", (28.0, 30.0), BODY.sized(20.0).bold());
    sheet.text("Its subtitle", (28.0, 56.0), BODY);
    sheet.line(&[(100.0, 100.0), (700.0, 500.0)], Pen::full(INK, 1.0));
    for k in 0..6 {
        let at = (100.0 + 90.0 * f64::from(k), 520.0);
        sheet.text("number", at, BODY.centred());
    }
    sheet.text("The caution", (28.0, 585.0), BODY.sized(11.0));
    sheet
}

fn set_texts(sheet: &Sheet) -> Vec<(String, Frame, Type)> {
    let items = sheet.items.borrow();
    let text = |item: &Item| match item {
        Item::Text(text, _, set) => Some((text.clone(), item.frame(), *set)),
        _ => None,
    };
    items.iter().filter_map(text).collect()
}

#[test]
fn a_slide_is_sixteen_to_nine_bare_and_its_type_is_larger_but_clear() {
    let [slide] = &figure().slides(SlideTheme::Light)[..] else {
        panic!("one slide")
    };
    assert!(slide.size == SLIDE);
    assert!(!matches!(slide.items.borrow()[0], Item::Fill(..)));
    let all = set_texts(slide);
    assert_eq!(all.len(), 9);
    for (k, (text, frame, set)) in all.iter().enumerate() {
        assert!(
            holds([0.0, 0.0, slide.size.0, slide.size.1], *frame),
            "{text}"
        );
        assert!(
            all[k + 1..]
                .iter()
                .all(|(_, other, _)| !meet(*frame, *other)),
            "{text}"
        );
        if text == "number" {
            // 90 points apart and 56 wide: there is room for half as much again.
            assert!((1.3 * 15.0..1.6 * 15.0).contains(&set.size), "{set:?}");
        }
    }
}

#[test]
fn a_tall_figure_is_cut_where_nothing_is_cut_through() {
    let sheet = Sheet::new("Tall", (800.0, 1000.0));
    sheet.text("Tall", (28.0, 30.0), BODY.bold());
    for (top, words) in [(100.0, "upper"), (540.0, "lower")] {
        sheet.frame((100.0, top), (700.0, top + 380.0), Pen::full(INK, 1.0));
        sheet.text(words, (110.0, top + 20.0), BODY);
    }
    sheet.text("The caution", (28.0, 985.0), BODY.sized(11.0));
    let slides = sheet.slides(SlideTheme::Light);
    let words = |slide: &Sheet| {
        set_texts(slide)
            .into_iter()
            .map(|t| t.0)
            .collect::<Vec<_>>()
    };
    assert_eq!(slides.len(), 2);
    assert_eq!(words(&slides[0]), ["Tall", "upper", "The caution"]);
    assert_eq!(words(&slides[1]), ["Tall", "lower", "The caution"]);
    // With something that reaches through the gap it stays whole.
    sheet.line(&[(50.0, 100.0), (50.0, 920.0)], Pen::full(INK, 1.0));
    sheet.text("The caution", (28.0, 985.0), BODY.sized(11.0));
    assert_eq!(sheet.slides(SlideTheme::Light).len(), 1);
}

#[test]
fn no_slide_has_a_torn_sentence_and_each_has_the_legend() {
    let sheet = Sheet::new("Tall", (800.0, 1230.0));
    sheet.text("Tall", (28.0, 30.0), BODY.bold());
    for (top, words) in [(100.0, "upper"), (440.0, "lower")] {
        sheet.frame((100.0, top), (700.0, top + 280.0), Pen::full(INK, 1.0));
        sheet.text(words, (110.0, top + 20.0), BODY);
        // A note under a panel belongs to it alone.
        let note = format!("What is said of the panel that is called {words} here.");
        sheet.as_note(|sheet| sheet.text(&note, (110.0, top + 295.0), BODY.sized(12.0)));
    }
    let note = "A note that is no panel's own is what is said of all of them.";
    sheet.text(note, (110.0, 790.0), BODY.sized(12.0));
    sheet.on_each_slide(|sheet| sheet.text("legend", (110.0, 770.0), BODY));
    // Lines of some of these end in a full stop and are as long as a note.
    let said: Vec<String> = (1..8)
        .map(|k| {
            format!(
                "Sentence {k}, {}.",
                "and so on it goes to its end. And ".repeat(k)
            )
        })
        .collect();
    let y = (said.iter()).fold(810.0, |y, words| {
        sheet.paragraph(words, (28.0, y), (18.0, 744.0), BODY.sized(13.0))
    });
    assert!(y < 1200.0);
    sheet.text("The caution", (28.0, 1215.0), BODY.sized(11.0));
    for theme in [SlideTheme::Light, SlideTheme::Dark] {
        let slides = sheet.slides(theme);
        let words: Vec<String> = (slides.iter())
            .map(|slide| {
                let texts = set_texts(slide).into_iter().map(|text| text.0);
                texts.collect::<Vec<_>>().join(" ")
            })
            .collect();
        for sentence in &said {
            let holding = words.iter().filter(|words| words.contains(&**sentence));
            assert_eq!(holding.count(), 1, "`{sentence}` in {words:#?}");
            let begun = &sentence[..11];
            let begun = words.iter().filter(|words| words.contains(begun));
            assert_eq!(begun.count(), 1, "{words:#?}");
        }
        for words in words.iter().filter(|words| !words.contains("Sentence")) {
            assert!(words.contains("legend"), "{words}");
        }
        let of = |panel: &str| {
            words
                .iter()
                .position(|words| words.contains(panel))
                .unwrap()
        };
        assert_eq!([of(" upper"), of(" lower")], [0, 1]);
        for panel in ["upper", "lower"] {
            let note = format!("called {panel} here");
            let holding: Vec<usize> = (0..words.len())
                .filter(|&k| words[k].contains(&note))
                .collect();
            assert_eq!(holding, [of(&format!(" {panel}"))]);
        }
        assert!(
            words
                .iter()
                .all(|words| words.contains("what is said of all of them"))
        );
        assert!(words.iter().all(|words| words.contains("The caution")));
        // Nothing lies over the notes at the foot.
        for slide in &slides {
            let all = set_texts(slide);
            for (k, (text, frame, _)) in all.iter().enumerate() {
                assert!(holds([0.0, 0.0, SLIDE.0, SLIDE.1], *frame), "{text}");
                let over = all[k + 1..]
                    .iter()
                    .find(|(_, other, _)| meet(*frame, *other));
                assert!(over.is_none(), "`{text}` under {over:?}");
            }
        }
    }
}
