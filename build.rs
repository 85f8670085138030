//! Packs the live page for the command line, so that the program is 0.4 MB smaller.

#[cfg(feature = "cli")]
fn main() -> std::io::Result<()> {
    const PAGE: &str = "page/polstack.html";
    println!("cargo::rerun-if-changed=build.rs");
    println!("cargo::rerun-if-changed={PAGE}");
    let folder = std::env::var_os("OUT_DIR").ok_or(std::io::ErrorKind::NotFound)?;
    let packed = miniz_oxide::deflate::compress_to_vec_zlib(&std::fs::read(PAGE)?, 9);
    std::fs::write(std::path::Path::new(&folder).join("page.zlib"), packed)
}

#[cfg(not(feature = "cli"))]
fn main() {
    println!("cargo::rerun-if-changed=build.rs");
}
