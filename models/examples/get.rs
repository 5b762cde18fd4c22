//! Gets a model: `cargo run -p models --example get -- NAME FOLDER`.
use std::path::Path;
fn main() {
    let a: Vec<String> = std::env::args().collect();
    match models::get(&a[1], Path::new(&a[2]), &mut |s: &str| eprintln!("{s}")) {
        Ok(p) => println!("{}", p.display()),
        Err(e) => {
            eprintln!("{e}");
            std::process::exit(1)
        }
    }
}
