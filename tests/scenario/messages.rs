use polstack::scenario::parse;

pub const BENCH: &str = r#"title = "Bench"

[light]
source = { blackbody_k = 3200 }

[aperture]
na = 0.6

[[part]]
name = "condenser"
condenser = { na = 0.88, surfaces = 4, glass = 1.52 }
strain = [ { radial = { edge_nm = 40 } },
           { clamp = { contacts = 4, force_n = 5, diameter_mm = 26, stress_optic_brewster = 2.7 } } ]

[[part]]
name = "lower polar"
polarizer = { sheet = { k1 = 0.8, k2 = 8e-6 }, azimuth_deg = 0 }

[[part]]
name = "slide"
slide = { glass = 1.515, mount = 1.515 }

[[part]]
name = "objective"
objective = { na = 0.6, surfaces = 8, glass = 1.52, coating = "mgf2" }
strain = [ { uniform = { path_difference_nm = 3, azimuth_deg = 45 } } ]

[[part]]
name = "plate"
plate = { path_difference_nm = 550, azimuth_deg = 45 }
tolerance = { azimuth_deg = 0.5 }

[[part]]
name = "analyzer"
analyzer = { sheet = { k1 = 0.8, k2 = 8e-6 }, azimuth_deg = 90 }
"#;

#[test]
fn show() {
    println!(
        "{:?}",
        parse(BENCH, "bench.toml", "".as_ref()).map_err(|e| e.to_string())
    );
    for (from, to) in [
        ("coating =", "coatin ="),
        ("na = 0.88, ", ""),
        ("na = 0.88", "na = \"wide\""),
        ("na = 0.88", "na = 7.2"),
        ("na = 0.88", "na = 1.2"),
        ("na = 0.88", "na = nan"),
        ("na = 0.88", "na = 1e400"),
        (
            "na = 0.88",
            "na = 99999999999999999999999999999999999999999999999999999",
        ),
        ("na = 0.88", "na = 1979-05-27"),
        ("glass = 1.52, coating", "glass = \"N-BK8\", coating"),
        ("glass = 1.52, coating", "glass = true, coating"),
        ("{ blackbody_k = 3200 }", "{ csv = \"lamp.csv\" }"),
        ("{ blackbody_k = 3200 }", "\"led-b4\""),
        ("{ blackbody_k = 3200 }", "{ line_nm = 546.1 }"),
        ("{ blackbody_k = 3200 }", "[1]"),
        (
            "{ blackbody_k = 3200 }",
            "{ blackbody_k = 3200, colour = \"warm\" }",
        ),
        ("\"mgf2\"", "\"mgf3\""),
        ("\"mgf2\"", "7"),
        ("\"mgf2\"", "{mgf2 = 1}"),
        ("k2 = 8e-6", "k2 = 0.9"),
        ("[light]\nsource = { blackbody_k = 3200 }\n", ""),
        ("title = \"Bench\"", "titel = \"Bench\""),
        ("title = \"Bench\"", "title = \"Bench"),
        ("name = \"plate\"", "name = \"slide\""),
        ("name = \"plate\"", ""),
        ("tolerance = {", "strain = [] #"),
        (
            "plate = {",
            "retarder = {path_difference_nm = 550, azimuth_deg = 45}\nplate = {",
        ),
        (
            "[[part]]\nname = \"analyzer\"\nanalyzer",
            "[[part]]\nname = \"upper\"\npolarizer",
        ),
        (", stress_optic_brewster = 2.7", ""),
        (
            "na = 0.6, surfaces = 8, glass = 1.52",
            "na = 0.99, surfaces = 1, glass = 1.05",
        ),
        ("surfaces = 4", "surfaces = 1.5"),
        ("surfaces = 4", "surfaces = \"idael\""),
        ("0.6\n", "0.6 0.7\n"),
        ("strain = [ { u", "strain = [ {}, { u"),
    ] {
        assert!(BENCH.contains(from), "{from}");
        let error = parse(
            &BENCH.replacen(from, to, 1),
            "bench.toml",
            "tables".as_ref(),
        );
        println!("----- {to}\n{}\n", error.unwrap_err());
    }
    for text in [
        &format!("a = {{{}}}", "b={".repeat(100_000)),
        &format!("{} = 1", "a = {a.b.c.d.e.f.g.h.i.j.k.l.m.n.o".repeat(70)),
        &format!(
            "{} = 1{}",
            "a = {a.b.c.d.e.f.g.h.i.j.k.l.m.n.o".repeat(70),
            "}".repeat(70)
        ),
        "",
        "# only this\n",
        "title = 'x'",
        &format!("{} = 1", "a.".repeat(500_000)),
        &format!("x = {}", "[".repeat(100_000)),
        &format!("title = '{}'\nx", "ab ".repeat(1000)),
        &format!("x = '{}', y", "ab ".repeat(1000)),
        &"#".repeat(2 << 20),
    ] {
        let error = parse(text, "bench.toml", "tables".as_ref());
        let t = std::time::Instant::now();
        let e = error.unwrap_err().to_string();
        println!("-----\n{}\n{:?}", e, t.elapsed());
    }
}
