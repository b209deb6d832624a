//! Tables as spreadsheets and other programs write them, and what an ill-meant one can do. RFC 4180
//! says what comma-separated text is; that a decimal comma brings the semicolon with it is common
//! practice, no source.

use std::path::Path;

use crate::processor::processor_s;
use cycles::{COLUMN_LIMIT, Columns, LoadOptions, read};

fn refusal(text: impl AsRef<[u8]>) -> String {
    let found = read(Path::new("odd.csv"), text.as_ref(), &LoadOptions::default());
    found.map(|_| ()).unwrap_err().to_string()
}

#[test]
fn what_a_spreadsheet_may_write_is_refused_by_its_name() {
    for (text, expected) in [
        (
            "time_s;speed_kmh\n0;0,5\n1;1,5\n",
            "odd.csv:1: column `time_s;speed_kmh` is not known; fields must be separated by commas, \
             and decimals set off by points",
        ),
        (
            &",".repeat(COLUMN_LIMIT),
            "odd.csv:1: has more than 10000 fields, and at most so many are read",
        ),
        ("time_s\tspeed_kmh\n0\t0\n", "fields must be separated by commas"),
        (
            "time_s,speed_kmh\n0,0,5\n1,1,5\n",
            "odd.csv:2: has 3 fields, and the header has 2; decimals are set off by points",
        ),
        (
            "time_s,speed_kmh\n0,\"0,5\"\n",
            "odd.csv:2: speed_kmh is `0,5`, and a number with a decimal point is needed",
        ),
        (
            "0,0\n1,10\n2,20\n",
            "odd.csv:1: the columns are `0, 0`, and a line with the names of the columns is needed \
             before the numbers, such as `time_s,speed_kmh`",
        ),
        ("time_s,speed_kmh\n0,0\n1,\0\n", "odd.csv:3: holds a byte of zero, and only text is read"),
        ("\u{1}time_s,speed_kmh\n0,0\n", "column ` time_s` is not known; did you mean `time_s`?"),
    ] {
        let sentence = refusal(text);
        assert!(sentence.contains(expected) && !sentence.contains('\n'), "{expected}: {sentence}");
    }
    let utf16: Vec<u8> =
        "\u{feff}time_s,speed_kmh\n0,0\n".encode_utf16().flat_map(u16::to_be_bytes).collect();
    assert!(refusal(utf16).contains("is text in UTF-16"));
}

/// Time of the processor grows with the length of a file, whatever is long in it.
#[test]
fn ill_meant_tables_take_no_more_of_the_processor_than_others() {
    const SIZE: usize = 8_000_000;
    let many = |text: &str| text.repeat(SIZE / text.len());
    let rows: String = (0..SIZE / 12).map(|i| format!("{i},36\n")).collect();
    let heights: String = (0..SIZE / 16).map(|i| format!("{i},36,{}\n", i % 7)).collect();
    let cases = [
        format!("time_s,speed_kmh\n{rows}"),
        format!("time_s,speed_kmh,elevation_m\n{heights}"),
        format!("{}\n", many("x,")),
        many("x"),
        format!("time_s,speed_kmh\n0,0\n1,{}\n", many("9")),
        format!("time_s,speed_kmh\n0,0\n1,\"{}", many("\"\"")),
        format!("time_s,speed_kmh\n0,0\n1,{}\n", many(",")),
        many("\n"),
        many("#\n"),
        many("time_s,"),
        many("1,"),
    ];
    for text in &cases {
        for columns in [Columns::Strict, Columns::IgnoreUnknown] {
            let options = LoadOptions { columns, ..LoadOptions::default() };
            let begun_s = processor_s();
            let found = read(Path::new("long.csv"), text.as_bytes(), &options);
            let s = processor_s() - begun_s;
            assert!(s < 2.0, "{s:.1} s for {}", &text[..60]);
            if let Err(error) = found {
                assert!(error.to_string().len() < 1000, "{error}");
            }
        }
    }
}
