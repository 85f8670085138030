//! Links for the live page: a state of it as the part of an address after #.

use std::collections::BTreeMap;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use miniz_oxide::deflate::compress_to_vec;
use serde::Serialize;

/// How hard a state is packed, 0 to 10.
const EFFORT: u8 = 9;

/// What the live page shows, as `page/src/state.js` keeps it.
#[derive(Debug, Clone, Serialize)]
pub(super) struct PageState<'a> {
    /// The scenario.
    pub(super) text: &'a str,
    /// The files that it names.
    pub(super) files: &'a BTreeMap<String, String>,
    /// Parts that are taken out.
    pub(super) out: [&'a str; 0],
    /// Whether the plate is in.
    pub(super) plate: bool,
    /// By how many degrees the stage is turned.
    pub(super) stage: u32,
    /// How bright fields are shown.
    pub(super) exposure: &'a str,
    /// How the back focal plane is shown: "luminance" or "color".
    pub(super) show: &'a str,
    /// The scenario as it was opened.
    pub(super) opened: &'a str,
    /// What a class may change; all where it is null.
    pub(super) free: Option<&'a [String]>,
}

impl PageState<'_> {
    /// `s=` and the state: JSON, packed by deflate, in the letters that an address may have.
    ///
    /// Checked by: `page/tests/links.mjs`, with the page's own reader.
    pub(super) fn address(&self) -> String {
        // A plain struct of strings: writing it to memory cannot fail.
        let json = serde_json::to_vec(self).unwrap_or_default();
        format!(
            "s={}",
            URL_SAFE_NO_PAD.encode(compress_to_vec(&json, EFFORT))
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    #[test]
    fn a_link_holds_its_state() {
        let files = BTreeMap::from([("lamp.csv".to_owned(), "wavelength_nm,power\n".to_owned())]);
        let state = PageState {
            text: "title = \"µ & <b>\"\n",
            files: &files,
            out: [],
            plate: true,
            stage: 0,
            exposure: "own",
            show: "color",
            opened: "title = \"µ & <b>\"\n",
            free: Some(&["analyzer".to_owned()]),
        };
        let address = state.address();
        let packed = address.strip_prefix("s=").unwrap();
        assert!(
            packed
                .bytes()
                .all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_')
        );
        let packed = URL_SAFE_NO_PAD.decode(packed).unwrap();
        let json = miniz_oxide::inflate::decompress_to_vec(&packed).unwrap();
        let told: Value = serde_json::from_slice(&json).unwrap();
        assert_eq!(told, serde_json::to_value(&state).unwrap());
        assert_eq!(told["free"][0], "analyzer");
        assert_eq!(told["files"]["lamp.csv"], "wavelength_nm,power\n");
    }
}
