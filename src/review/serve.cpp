// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/review/serve.h"

#include "basefog/core/embedded_file.h"
#include "review/desk.h"
#include "review/guard.h"
#include "review/print_wire.h"
#include "review/wire.h"
#include "review/worker.h"

#include <httplib.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <map>
#include <mutex>
#include <thread>

namespace basefog {
namespace review {

extern const EmbeddedFile kReviewHtml, kReviewCss, kGeometryJs, kPrintJs, kReviewJs;

namespace {

using httplib::Request, httplib::Response;
using Json = nlohmann::ordered_json;

constexpr int kForbidden = 403, kNotFound = 404, kConflict = 409, kUnprocessable = 422;
constexpr std::size_t kLargestRequest = 8 << 20;  // Chosen: hundreds of sheets' corners take a hundredth of it
constexpr std::size_t kPicturesKept = 24;         // Chosen: of the pictures sent lately; some 300 kB each
constexpr int kLongestSide = 2400;                // Chosen: a wide screen's pixels
constexpr auto kGlance = std::chrono::milliseconds(100);

void put_in(std::string& text, const std::string& mark, std::string_view content) {
    const std::size_t at = text.find(mark);
    if (at != std::string::npos) text.replace(at, mark.size(), content);
}

class Service {
public:
    Service(const ReviewOptions& options, const ReviewHooks& hooks, Desk desk)
        : options_(options),
          hooks_(hooks),
          desk_(std::move(desk)),
          measuring_([this](Observer& observer) { return prepare_proofs(observer); }),
          worker_(hooks.run_again) {}

    /// Errors: unwritable where no port is to be had.
    Result<void> serve(Observer& observer, const std::function<void(const std::string&)>& ready);

private:
    void add_routes();
    void measure();
    Result<void> prepare_proofs(Observer& observer);
    [[nodiscard]] bool admits(const Request& request) const;
    void send_page(Response& response) const;
    void send_state(const Request& request, Response& response);
    void send_watch(const Request& request, Response& response);
    void send_picture(const Request& request, Response& response);
    void send_proof(const Request& request, Response& response);
    void send_file(const Request& request, Response& response) const;
    void save(const Request& request, Response& response);
    void run_again(const Request& request, Response& response);

    const ReviewOptions& options_;
    const ReviewHooks& hooks_;
    std::mutex mutex_;  // of the desk, the holder and the pictures
    Desk desk_;
    std::string holder_;  // the page that was opened last: it alone may save
    std::map<std::string, std::string> pictures_;
    std::mutex proof_mutex_;  // one proof at a time, and none while sheets are measured
    Worker measuring_, worker_;
    httplib::Server server_;
    int port_ = 0;
};

void send(Response& response, const Json& json) { response.set_content(json.dump(-1, ' ', false, Json::error_handler_t::replace), "application/json"); }
void refuse(Response& response, int status, const std::string& why) {
    response.status = status;
    send(response, {{"error", why}});
}
void refuse(Response& response, const Error& error) { refuse(response, error.code == ErrorCode::usage ? kConflict : kUnprocessable, describe(error)); }

bool Service::admits(const Request& request) const {
    if (!is_own_host(request.get_header_value("Host"), port_)) return false;
    if (request.has_header("Origin") && !is_own_origin(request.get_header_value("Origin"), port_)) return false;
    const std::string site = request.get_header_value("Sec-Fetch-Site");
    if (!site.empty() && site != "same-origin" && site != "none") return false;
    // A link or form elsewhere cannot set a header: what changes anything asks for the token there.
    const bool reads = request.method == "GET";
    const std::string token = request.has_header("X-Basefog-Token") ? request.get_header_value("X-Basefog-Token")
                              : reads                               ? request.get_param_value("token")
                                                                    : std::string();
    return same_secret(token, options_.token);
}

void Service::send_page(Response& response) const {
    std::string page(kReviewHtml.text);
    const std::string nonce = options_.token;
    put_in(page, "<!--style-->", "<style nonce=\"" + nonce + "\">" + std::string(kReviewCss.text) + "</style>");
    put_in(page, "<!--script-->",
           "<script nonce=\"" + nonce + "\">" + std::string(kGeometryJs.text) + "</script>\n<script nonce=\"" + nonce + "\">" + std::string(kPrintJs.text) +
               "</script>\n<script nonce=\"" + nonce + "\">" + std::string(kReviewJs.text) + "</script>");
    put_in(page, "TOKEN", options_.token);
    response.set_header("Content-Security-Policy",
                        "default-src 'none'; script-src 'nonce-" + nonce + "'; style-src 'nonce-" + nonce +
                            "'; img-src 'self' data: blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; "
                            "require-trusted-types-for 'script'; trusted-types 'none'");
    response.set_content(page, "text/html; charset=utf-8");
}

void Service::send_state(const Request& request, Response& response) {
    const std::lock_guard lock(mutex_);
    if (!worker_.busy() && desk_.stale())
        if (auto read = desk_.reload(); !read) return refuse(response, read.error());
    holder_ = request.get_param_value("page");
    send(response, desk_.state());
}

void Service::send_watch(const Request& request, Response& response) {
    const std::lock_guard lock(mutex_);
    const bool busy = worker_.busy();
    send(response, {{"mine", holder_ == request.get_param_value("page")},
                    {"revision", desk_.revision()},
                    {"stale", !busy && desk_.stale()},
                    {"run", worker_.state()},
                    {"measuring", measuring_.state()}});
}

std::int64_t whole(const Request& request, const char* name, std::int64_t low, std::int64_t high) {
    const std::string text = request.get_param_value(name);
    const bool digits = !text.empty() && text.size() < 10 && std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
    return std::clamp(digits ? std::int64_t{std::stol(text)} : low, low, high);
}

void Service::send_picture(const Request& request, Response& response) {
    const std::lock_guard lock(mutex_);  // one picture at a time: reading a scan takes memory
    const auto sheet = static_cast<std::size_t>(whole(request, "sheet", 0, 1 << 20));
    if (sheet >= desk_.sheets().size()) return refuse(response, kNotFound, "there is no such sheet");
    const SheetOnDesk& one = desk_.sheets()[sheet];
    PxRect part{whole(request, "x0", 0, one.width), whole(request, "y0", 0, one.height), whole(request, "x1", 0, one.width),
                whole(request, "y1", 0, one.height)};
    if (part.empty()) part = {0, 0, one.width, one.height};
    const int long_side = static_cast<int>(whole(request, "long", 16, kLongestSide));
    const std::string key = std::to_string(sheet) + "," + std::to_string(part.x0) + "," + std::to_string(part.y0) + "," + std::to_string(part.x1) + "," +
                            std::to_string(part.y1) + "," + std::to_string(long_side);
    if (pictures_.count(key) == 0) {
        auto bytes = hooks_.picture(one.layout.file, part, long_side);
        if (!bytes) return refuse(response, kNotFound, describe(bytes.error()));
        if (pictures_.size() >= kPicturesKept) pictures_.clear();
        pictures_[key] = std::move(*bytes);
    }
    response.set_content(pictures_[key], "image/jpeg");
}

std::string in_header(const Rgb<Stops>& balance) {
    return std::to_string(balance.r.value()) + "," + std::to_string(balance.g.value()) + "," + std::to_string(balance.b.value());
}

void Service::send_proof(const Request& request, Response& response) {
    const nlohmann::json sent = nlohmann::json::parse(request.body, nullptr, false);
    std::string scan;
    {
        const std::lock_guard lock(mutex_);
        const std::size_t sheet =
            sent.is_object() && sent.contains("sheet") && sent["sheet"].is_number_unsigned() ? sent["sheet"].get<std::size_t>() : desk_.sheets().size();
        if (sheet >= desk_.sheets().size()) return refuse(response, kNotFound, "there is no such sheet");
        scan = desk_.sheets()[sheet].layout.file;
    }
    const auto wish = wish_of(sent, scan);
    if (!wish) return refuse(response, wish.error());
    // No proof is no fault of the asking: the page is told why there is none.
    const auto unready = [&] { send(response, {{"none", "the sheets are still being measured"}, {"measuring", true}}); };
    if (!measuring_.done()) return unready();  // without waiting for it
    const std::lock_guard lock(proof_mutex_);
    if (!measuring_.done()) return unready();
    const auto proof = hooks_.proof(*wish);
    if (!proof) return send(response, {{"none", describe(proof.error())}, {"measuring", false}});
    if (proof->coloured) {
        response.set_header("X-Basefog-Balance", in_header(proof->balance));
        response.set_header("X-Basefog-Roll-Balance", in_header(proof->roll_balance));
        response.set_header("X-Basefog-Light-Shift", in_header(proof->light_shift));
    }
    response.set_header("X-Basefog-Note", proof->note);  // of the program's own words, which are ASCII
    response.set_content(proof->jpeg, "image/jpeg");
}

void Service::send_file(const Request& request, Response& response) const {
    const auto path = file_within(options_.folder, request.get_param_value("path"));
    const bool picture = path && std::filesystem::path(*path).extension() == ".jpg";
    if (!picture) return refuse(response, kForbidden, "only pictures within the results folder are shown");
    response.set_content(bytes_of(*path), "image/jpeg");
}

void Service::save(const Request& request, Response& response) {
    const nlohmann::json sent = nlohmann::json::parse(request.body, nullptr, false);
    if (!sent.is_object() || !sent.contains("sheets") || !sent.contains("revision") || !sent["revision"].is_number_integer() || !sent.contains("page") ||
        !sent["page"].is_string())
        return refuse(response, kUnprocessable, "this is no layout");
    const std::lock_guard lock(mutex_);
    if (sent["page"].get<std::string>() != holder_)
        return refuse(response, kConflict, "another page is open on these results; load this one again to go on here");
    if (worker_.busy()) return refuse(response, kConflict, "the run is still being made again");
    const auto saved = desk_.save(sent, sent["revision"].get<int>());
    if (!saved) return refuse(response, saved.error());
    Json state = desk_.state();
    state["written"] = *saved;
    send(response, state);
}

void Service::run_again(const Request& request, Response& response) {
    const std::lock_guard lock(mutex_);
    if (request.get_header_value("X-Basefog-Page") != holder_) return refuse(response, kConflict, "another page is open on these results");
    measuring_.end();  // the two would need their memory together
    const bool started = worker_.start([this] {
        const std::lock_guard inner(mutex_);
        pictures_.clear();
        (void)desk_.reload();  // what it cannot read, the page's next look says
        measure();
    });
    if (!started) return refuse(response, kConflict, "the run is being made again already");
    send(response, worker_.state());
}

void Service::measure() {
    if (hooks_.prepare_proofs) measuring_.start();
}

Result<void> Service::prepare_proofs(Observer& observer) {
    const std::lock_guard lock(proof_mutex_);
    return hooks_.prepare_proofs(observer);
}

void Service::add_routes() {
    server_.set_payload_max_length(kLargestRequest);
    server_.set_pre_routing_handler([this](const Request& request, Response& response) {
        for (const auto& [name, value] : {std::pair("Cache-Control", "no-store"), std::pair("X-Content-Type-Options", "nosniff"),
                                          std::pair("Referrer-Policy", "no-referrer"), std::pair("Cross-Origin-Resource-Policy", "same-origin")})
            response.set_header(name, value);
        if (admits(request)) return httplib::Server::HandlerResponse::Unhandled;
        refuse(response, kForbidden, "this page is for the browser it was opened in");
        return httplib::Server::HandlerResponse::Handled;
    });
    server_.Get("/", [this](const Request&, Response& response) { send_page(response); });
    server_.Get("/state", [this](const Request& request, Response& response) { send_state(request, response); });
    server_.Get("/watch", [this](const Request& request, Response& response) { send_watch(request, response); });
    server_.Get("/picture", [this](const Request& request, Response& response) { send_picture(request, response); });
    server_.Get("/file", [this](const Request& request, Response& response) { send_file(request, response); });
    server_.Post("/proof", [this](const Request& request, Response& response) { send_proof(request, response); });
    server_.Post("/save", [this](const Request& request, Response& response) { save(request, response); });
    server_.Post("/run", [this](const Request& request, Response& response) { run_again(request, response); });
}

Result<void> Service::serve(Observer& observer, const std::function<void(const std::string&)>& ready) {
    add_routes();
    port_ = options_.port > 0 ? (server_.bind_to_port("127.0.0.1", options_.port) ? options_.port : -1) : server_.bind_to_any_port("127.0.0.1");
    if (port_ <= 0) return fail(ErrorCode::unwritable, "no port of this machine could be had for the page", {}, "give another --port, or none");
    std::thread listening([this] { server_.listen_after_bind(); });
    measure();
    ready("http://127.0.0.1:" + std::to_string(port_) + "/?token=" + options_.token);
    while (!observer.cancelled()) std::this_thread::sleep_for(kGlance);
    worker_.stop();
    measuring_.stop();
    server_.stop();
    listening.join();
    return {};
}

}  // namespace
}  // namespace review

Result<void> validate(const ReviewOptions& options) {
    constexpr std::size_t kTokenDigits = 32;
    const bool hex = std::all_of(options.token.begin(), options.token.end(), [](char c) { return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f'); });
    if (options.token.size() < kTokenDigits || !hex) return fail(ErrorCode::usage, "the page's token is not 32 hexadecimal digits or more");
    if (options.port < 0 || options.port > 65535) return fail(ErrorCode::usage, "a port lies between 0 and 65535");
    if (options.folder.empty()) return fail(ErrorCode::usage, "no results folder was named");
    return {};
}

Result<ReviewedRun> read_run(const std::string& folder) {
    const std::string path = (std::filesystem::path(folder) / "report.json").string();
    const std::string report = review::bytes_of(path);
    if (report.empty()) return fail(ErrorCode::not_found, "holds no report.json", folder, "give the results folder of basefog invert or measure");
    return review::run_of_report(report, path);
}

Result<void> serve_review(const ReviewOptions& options, const ReviewHooks& hooks, Observer& observer, const std::function<void(const std::string&)>& ready) {
    if (auto valid = validate(options); !valid) return valid;
    const std::string layout = options.layout.empty() ? (std::filesystem::path(options.folder) / "layout.toml").string() : options.layout;
    const std::string settings = options.settings.empty() ? (std::filesystem::path(options.folder) / "print.toml").string() : options.settings;
    auto desk = review::Desk::open({options.folder, layout, settings}, hooks.told_of_frame);
    if (!desk) return Failure(std::move(desk.error()));
    review::Service service(options, hooks, std::move(*desk));
    return service.serve(observer, ready);
}

}  // namespace basefog
