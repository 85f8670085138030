//! Packs the live page and the fonts of figures, so that the program is 0.5 MB smaller.

fn main() -> std::io::Result<()> {
    println!("cargo::rerun-if-changed=build.rs");
    #[cfg(feature = "figures")]
    {
        pack("src/output/sheet/font/regular.ttf", "regular.zlib")?;
        pack("src/output/sheet/font/bold.ttf", "bold.zlib")?;
    }
    #[cfg(feature = "cli")]
    pack("page/polstack.html", "page.zlib")?;
    Ok(())
}

#[cfg(feature = "figures")]
fn pack(file: &str, packed: &str) -> std::io::Result<()> {
    println!("cargo::rerun-if-changed={file}");
    let folder = std::env::var_os("OUT_DIR").ok_or(std::io::ErrorKind::NotFound)?;
    let bytes = miniz_oxide::deflate::compress_to_vec_zlib(&std::fs::read(file)?, 9);
    std::fs::write(std::path::Path::new(&folder).join(packed), bytes)
}
