//! Signatures against the carrier's published worked examples. Their numbers are part of what is signed, so they stand
//! here as published.

use browline::channel::signature::{sign, verify};
use secrecy::SecretString;

const URL: &str = "https://mycompany.com/myapp.php?foo=1&bar=2";

fn token(text: &str) -> SecretString {
    SecretString::from(text)
}

fn call(caller: &str) -> Vec<(String, String)> {
    [("To", "+18005551212"), ("CallSid", "CA1234567890ABCDE"), ("From", caller), ("Caller", caller), ("Digits", "1234")]
        .map(|(name, value)| (name.to_owned(), value.to_owned()))
        .to_vec()
}

fn assert_signed(url: &str, params: &[(String, String)], signature: &str) {
    let token = token("12345");
    assert_eq!(sign(&token, url, params), signature, "{url}");
    assert!(verify(&token, url, params, signature), "{url}");
}

/// The carrier's guide "Secure webhooks" in its current text, and in its earlier one, which its libraries test.
#[test]
fn the_carriers_worked_examples() {
    assert_signed(URL, &call("+12349013030"), "0/KCTR6DLpKmkAf8muzZqo1nDgQ=");
    assert_signed(URL, &call("+14158675309"), "RSOYDt4T1cUTdK1PDd93/VVr8B8=");
}

/// The carrier's C# library, its own tests: the host is signed as written.
#[test]
fn the_hosts_capitals_count() {
    let shouted = "https://MyCompany.com/myapp.php?foo=1&bar=2";
    assert_signed(shouted, &call("+14158675309"), "g9IN/x4Cft2g517EjYvEvM/W7LU=");
    assert!(!verify(&token("12345"), URL, &call("+14158675309"), "g9IN/x4Cft2g517EjYvEvM/W7LU="));
}

/// The carrier's C# library, its own tests, for ports written out.
#[test]
fn a_signature_with_or_without_the_port_is_accepted() {
    let with = [
        ("https://mycompany.com:443/myapp.php?foo=1&bar=2", "kvajT1Ptam85bY51eRf/AJRuM3w="),
        ("https://mycompany.com:1234/myapp.php?foo=1&bar=2", "CYn1h0gLBdNxDGkKJg6hYohgeD8="),
        ("http://mycompany.com:80/myapp.php?foo=1&bar=2", "0ZXoZLH/DfblKGATFgpif+LLRf4="),
        ("http://mycompany.com:1234/myapp.php?foo=1&bar=2", "Zmvh+3yNM1Phv2jhDCwEM3q5ebU="),
    ];
    let params = call("+14158675309");
    for (url, signature) in with {
        assert_signed(url, &params, signature);
    }
    let token = token("12345");
    let without = "RSOYDt4T1cUTdK1PDd93/VVr8B8=";
    assert!(verify(&token, with[0].0, &params, without), "the port is dropped");
    assert!(verify(&token, with[1].0, &params, without), "any port is dropped");
    assert!(verify(&token, URL, &params, with[0].1), "the default port is added");
    let plain = "http://mycompany.com/myapp.php?foo=1&bar=2";
    assert!(verify(&token, plain, &params, with[2].1), "that of http too");
    assert!(!verify(&token, plain, &params, with[0].1), "not that of another scheme");
    assert!(!verify(&token, URL, &params, with[1].1), "no other port is guessed");
}

#[test]
fn anything_changed_is_refused() {
    let token = token("12345");
    let params = call("+14158675309");
    let signature = sign(&token, URL, &params);
    let mut more = params.clone();
    more.push(("Extra".to_owned(), String::new()));
    assert!(!verify(&token, URL, &more, &signature), "a parameter more");
    assert!(!verify(&token, URL, &params[1..], &signature), "a parameter less");
    assert!(!verify(&token, &URL.replace("bar=2", "bar=3"), &params, &signature), "another query");
    assert!(!verify(&SecretString::from("12346"), URL, &params, &signature), "another token");
    for index in 0..signature.len() {
        let mut wrong = signature.clone().into_bytes();
        wrong[index] = if wrong[index] == b'A' { b'B' } else { b'A' };
        let wrong = String::from_utf8(wrong).unwrap();
        assert!(!verify(&token, URL, &params, &wrong), "{wrong}");
    }
}
