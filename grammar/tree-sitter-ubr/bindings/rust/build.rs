//! Compiles the generated parser and the scanner.

fn main() {
    let mut build = cc::Build::new();
    build.std("c11").include("src");
    // The parser is generated and too large for warnings to be read; the scanner is written by hand.
    build.warnings(false);
    for file in ["src/parser.c", "src/scanner.c"] {
        println!("cargo:rerun-if-changed={file}");
        build.file(file);
    }
    println!("cargo:rerun-if-changed=src/words.h");
    build.compile("tree-sitter-ubr");
}
