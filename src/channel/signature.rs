//! The signature on a carrier's webhook: is this call the carrier's own? Pure.
//!
//! The carrier signs the address it calls, exactly as it calls it, followed by each form parameter's name and value
//! with the names sorted, by HMAC-SHA1 with the account's token (its guide "Secure webhooks"). A JSON call signs the
//! address alone, which then carries the SHA-256 of the body in its query.
//!
//! Invariant: what cannot be verified is refused: no header, a scheme announced that is not this one, an empty token.

use std::borrow::Cow;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use hmac::{Hmac, KeyInit, Mac};
use secrecy::{ExposeSecret, SecretString};
use sha1::Sha1;
use sha2::{Digest, Sha256};
use subtle::ConstantTimeEq;

/// The header with the signature.
pub const HEADER: &str = "X-Twilio-Signature";
/// The header that announces another algorithm or another key than the account's token. A call that has it cannot be
/// verified here: give it to [`check`], which refuses it.
pub const SETTINGS_HEADER: &str = "X-Twilio-Webhooks-Signature-Settings";

/// Why a call is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Unverified {
    /// The call has no signature.
    #[error("the call has no signature")]
    Missing,
    /// The call announces a scheme other than HMAC-SHA1 with the account's token.
    #[error(
        "the call is signed by a scheme that cannot be verified here; have the carrier sign with the account's token"
    )]
    OtherScheme,
    /// The signature is not that of this call: another token, another address, or a forgery.
    #[error("the signature does not fit; check the token and the public address in the settings")]
    Wrong,
}

/// Checks a form call by its two headers; `settings` is the value of [`SETTINGS_HEADER`].
///
/// # Errors
/// [`Unverified`] says why the call must be refused.
pub fn check(
    token: &SecretString,
    url: &str,
    params: &[(String, String)],
    signature: Option<&str>,
    settings: Option<&str>,
) -> Result<(), Unverified> {
    if settings.is_some() {
        return Err(Unverified::OtherScheme);
    }
    let signature = signature.ok_or(Unverified::Missing)?;
    if verify(token, url, params, signature) { Ok(()) } else { Err(Unverified::Wrong) }
}

/// Whether `header` is the carrier's signature of a form call.
///
/// `url` is the public address as the carrier called it, with its query; `params` are the form's pairs, decoded, in any
/// order. A signature made with or without the port is accepted, as the carrier's own libraries do, since a proxy
/// may add or take it. The comparison takes the same time wherever the two differ.
#[must_use]
pub fn verify(token: &SecretString, url: &str, params: &[(String, String)], header: &str) -> bool {
    let Ok(given) = STANDARD.decode(header.trim()) else {
        return false;
    };
    if token.expose_secret().is_empty() {
        return false;
    }
    let tail = signed_params(params);
    // Every spelling is tried, so that the time does not tell which one fitted.
    spellings(url).iter().fold(false, |fits, url| fits | fits_one(token, url, &tail, &given))
}

/// Whether `header` is the carrier's signature of a JSON call: the address is signed, and its parameter
/// `bodySHA256` is the SHA-256 of the body as received.
#[must_use]
pub fn verify_body(token: &SecretString, url: &str, body: &[u8], header: &str) -> bool {
    let Some(claimed) = body_hash(url) else {
        return false;
    };
    let actual = hex(&Sha256::digest(body));
    let same = claimed.to_ascii_lowercase().as_bytes().ct_eq(actual.as_bytes());
    bool::from(same) & verify(token, url, &[], header)
}

/// The signature the carrier would give a form call: for tests and stand-ins.
#[must_use]
pub fn sign(token: &SecretString, url: &str, params: &[(String, String)]) -> String {
    let mac = keyed(token).chain_update(url.as_bytes()).chain_update(signed_params(params));
    STANDARD.encode(mac.finalize().into_bytes())
}

#[expect(clippy::expect_used, reason = "HMAC takes a key of any length (RFC 2104 section 3)")]
fn keyed(token: &SecretString) -> Hmac<Sha1> {
    Hmac::new_from_slice(token.expose_secret().as_bytes()).expect("HMAC takes any key")
}

fn fits_one(token: &SecretString, url: &str, tail: &str, given: &[u8]) -> bool {
    let mac = keyed(token).chain_update(url.as_bytes()).chain_update(tail.as_bytes());
    mac.verify_slice(given).is_ok()
}

/// Names and values, sorted; a pair that is repeated counts once.
fn signed_params(params: &[(String, String)]) -> String {
    let mut pairs: Vec<(&str, &str)> = params.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    pairs.sort_unstable();
    pairs.dedup();
    pairs.into_iter().flat_map(|(name, value)| [name, value]).collect()
}

/// The address as written, without its port, and with the default port of its scheme when it has none. Nothing else
/// is normalised: the carrier signs the host's capitals too.
fn spellings(url: &str) -> Vec<Cow<'_, str>> {
    let mut all = vec![Cow::Borrowed(url)];
    let Some((scheme, rest)) = url.split_once("://") else {
        return all;
    };
    let end = rest.find(['/', '?', '#']).unwrap_or(rest.len());
    let (authority, path) = rest.split_at(end);
    // A colon inside brackets belongs to an IPv6 address.
    let host_end = authority.rfind(']').map_or(0, |bracket| bracket + 1);
    let host_start = authority.rfind('@').map_or(host_end, |at| host_end.max(at + 1));
    match authority[host_start..].find(':') {
        Some(colon) => {
            let bare = &authority[..host_start + colon];
            all.push(Cow::Owned(format!("{scheme}://{bare}{path}")));
        }
        None => {
            let port = if scheme.eq_ignore_ascii_case("https") { 443 } else { 80 };
            all.push(Cow::Owned(format!("{scheme}://{authority}:{port}{path}")));
        }
    }
    all
}

fn body_hash(url: &str) -> Option<&str> {
    let (_, query) = url.split_once('?')?;
    let query = query.split('#').next()?;
    query.split('&').find_map(|pair| pair.strip_prefix("bodySHA256="))
}

fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string does not fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const URL: &str = "https://mycompany.com/myapp.php?foo=1&bar=2";

    fn token(text: &str) -> SecretString {
        SecretString::from(text)
    }

    fn pairs(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
        pairs.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect()
    }

    fn call(caller: &str) -> Vec<(String, String)> {
        pairs(&[
            ("To", "+13125550100"),
            ("CallSid", "CA1234567890ABCDE"),
            ("From", caller),
            ("Caller", caller),
            ("Digits", "1234"),
        ])
    }

    fn assert_signed(url: &str, params: &[(String, String)], signature: &str) {
        let token = token("12345");
        assert_eq!(sign(&token, url, params), signature, "{url}");
        assert!(verify(&token, url, params, signature), "{url}");
    }

    /// The carrier's PHP and Python libraries, their own tests.
    #[test]
    fn a_repeated_name_counts_each_value_once() {
        let params = pairs(&[
            ("Sid", "CA123"),
            ("SidAccount", "AC123"),
            ("Digits", "5678"),
            ("Digits", "1234"),
            ("Digits", "1234"),
        ]);
        assert_signed(URL, &params, "IK+Dwps556ElfBT0I3Rgjkr1wJU=");
    }

    /// The carrier's PHP and Python libraries, their own tests.
    #[test]
    fn a_json_body_is_signed_by_its_hash_in_the_address() {
        let body = br#"{"property": "value", "boolean": true}"#;
        let hash = "0a1ff7634d9ab3b95db5c9a2dfe9416e41502b283a80c7cf19632632f96e6620";
        assert_eq!(hex(&Sha256::digest(body)), hash);
        let url = format!("{URL}&bodySHA256={hash}");
        let signature = "a9nBmqA0ju/hNViExpshrM61xv4=";
        let token = token("12345");
        assert!(verify_body(&token, &url, body, signature));
        assert!(!verify_body(&token, &url, b"{}", signature), "another body");
        assert!(!verify_body(&token, URL, body, &sign(&token, URL, &[])), "no hash in the address");
        let other = url.replace("0a1ff", "0a1f0");
        assert!(!verify_body(&token, &other, body, signature), "another hash");
    }

    /// A public test suite for this scheme: values are signed decoded, a plus in a value is a plus.
    #[test]
    fn values_are_signed_decoded() {
        let params = pairs(&[("From", "+4915123456789"), ("Body", "hello+world")]);
        assert_signed("https://customer.example/cb", &params, "RPmvJzz674XdYurPkoSZxwiOiWM=");
    }

    /// RFC 2202 section 3, test cases 1, 2, 3 and 6. Cases 3 and 6 have keys that are no text; case 2 goes through the
    /// signer itself.
    #[test]
    fn hmac_sha1_is_that_of_the_standard() {
        let cases: [(&[u8], &[u8], &str); 4] = [
            (&[0x0b; 20], b"Hi There", "b617318655057264e28bc0b6fb378c8ef146be00"),
            (b"Jefe", b"what do ya want for nothing?", "effcdf6ae5eb2fa2d27416d5f184df9c259a7c79"),
            (&[0xaa; 20], &[0xdd; 50], "125d7342b9ac11cd91a39af48aa17b4f63f175d3"),
            (
                &[0xaa; 80],
                b"Test Using Larger Than Block-Size Key - Hash Key First",
                "aa4ae5e15272d00e95705637ce8a3b55ed402112",
            ),
        ];
        for (key, data, digest) in cases {
            let mac = Hmac::<Sha1>::new_from_slice(key).unwrap().chain_update(data);
            assert_eq!(hex(&mac.finalize().into_bytes()), digest);
        }
        let signed = sign(&token("Jefe"), "what do ya want for nothing?", &[]);
        assert_eq!(hex(&STANDARD.decode(signed).unwrap()), cases[1].2);
    }

    #[test]
    fn what_cannot_be_verified_is_refused() {
        let token = token("12345");
        let params = call("+13125550110");
        let signature = sign(&token, URL, &params);
        for header in ["", "=", "RSOYDt4T1cUTdK1PDd93", "not base64!", &signature[..20]] {
            assert!(!verify(&token, URL, &params, header), "{header:?}");
        }
        let empty = SecretString::from("");
        assert!(!verify(&empty, URL, &params, &sign(&empty, URL, &params)), "an empty token signs nothing");

        let ok = check(&token, URL, &params, Some(&signature), None);
        assert_eq!(ok, Ok(()));
        assert_eq!(check(&token, URL, &params, None, None), Err(Unverified::Missing));
        let announced = Some("key=one,algorithm=HMAC_SHA256");
        let other = check(&token, URL, &params, Some(&signature), announced);
        assert_eq!(other, Err(Unverified::OtherScheme), "though the old signature fits");
        assert_eq!(check(&token, URL, &params, Some("AAAA"), None), Err(Unverified::Wrong));
    }

    #[test]
    fn ports_are_found_in_any_authority() {
        let table = [
            ("https://a.example", "https://a.example:443"),
            ("https://a.example?x=1:2", "https://a.example:443?x=1:2"),
            ("http://a.example/p:9", "http://a.example:80/p:9"),
            ("http://[::1]/p", "http://[::1]:80/p"),
            ("http://[::1]:8080/p", "http://[::1]/p"),
            ("https://u:p@a.example/p", "https://u:p@a.example:443/p"),
            ("https://u:p@a.example:8443/p", "https://u:p@a.example/p"),
        ];
        for (url, other) in table {
            assert_eq!(spellings(url)[1], other);
        }
        assert_eq!(spellings("no address"), ["no address"]);
    }
}
