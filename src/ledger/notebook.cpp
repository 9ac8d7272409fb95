// SPDX-License-Identifier: GPL-3.0-or-later
// An existing notebook: a CSV file [RFC4180] whose columns the ledger maps to its own keys. One row is one roll.
#include "ledger/constants.h"
#include "ledger/dates.h"
#include "ledger/draft.h"
#include "ledger/text_checks.h"
#include "ledger/toml_document.h"

#include <fmt/format.h>
#include <algorithm>
#include <charconv>
#include <filesystem>
#include <map>
#include <set>

namespace basefog::ledger_room {
namespace {

/// Chosen: a hundred years of four rolls a week.
constexpr std::size_t kMostRows = 20'000;

struct Row {
    int line = 1;
    std::vector<std::string> cells;
};

std::string trimmed(const std::string& text) {
    const std::size_t first = text.find_first_not_of(" \t"), last = text.find_last_not_of(" \t");
    return first == std::string::npos ? std::string() : text.substr(first, last - first + 1);
}

std::vector<Row> split_csv(std::string_view text, char separator) {
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    std::vector<Row> rows;
    Row row;
    std::string cell;
    int line = 1;
    bool quoted = false;
    const auto end_row = [&] {
        row.cells.push_back(trimmed(cell));
        cell.clear();
        if (row.cells.size() > 1 || !row.cells[0].empty()) rows.push_back(row);
        row = {line, {}};
    };
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char c = text[i];
        if (c == '\n') ++line;
        if (quoted) {
            if (c == '"' && i + 1 < text.size() && text[i + 1] == '"')
                cell += text[++i];
            else if (c == '"')
                quoted = false;
            else
                cell += c;
        } else if (c == '"' && trimmed(cell).empty()) {
            quoted = true;
        } else if (c == separator) {
            row.cells.push_back(trimmed(cell));
            cell.clear();
        } else if (c == '\n') {
            end_row();
        } else if (c != '\r') {
            cell += c;
        }
    }
    if (!cell.empty() || !row.cells.empty()) end_row();
    return rows;
}

enum class DateOrder { year_first, day_first, month_first };

/// "14.3.2026", "3/14/2026", "2026-03-14".
std::optional<Date> date_in_order(const std::string& text, DateOrder order) {
    if (order == DateOrder::year_first) return parse_date(text);
    int parts[3] = {0, 0, 0};
    const char* at = text.data();
    const char* const end = at + text.size();
    for (int i = 0; i < 3; ++i) {
        const auto [stop, error] = std::from_chars(at, end, parts[i]);
        if (error != std::errc() || (i < 2 && (stop == end || std::string_view("./- ").find(*stop) == std::string_view::npos)) || (i == 2 && stop != end))
            return std::nullopt;
        at = stop + 1;
    }
    const int day = order == DateOrder::day_first ? parts[0] : parts[1], month = order == DateOrder::day_first ? parts[1] : parts[0];
    return parse_date(fmt::format("{:04}-{:02}-{:02}", parts[2], month, day));
}

/// "3.25", "3,25", and for minutes "3:15".
std::optional<double> number_in_cell(std::string text) {
    std::replace(text.begin(), text.end(), ',', '.');
    double value = 0, seconds = 0;
    const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc()) return std::nullopt;
    if (stop == text.data() + text.size()) return value;
    if (*stop != ':') return std::nullopt;
    const auto [last, bad] = std::from_chars(stop + 1, text.data() + text.size(), seconds);
    return bad == std::errc() && last == text.data() + text.size() && seconds < 60 ? std::optional(value + seconds / 60) : std::nullopt;
}

constexpr const char* kKeys[] = {"roll",
                                 "date",
                                 "session",
                                 "stock",
                                 "bath",
                                 "process",
                                 "rating",
                                 "tank",
                                 "reel",
                                 "note",
                                 "developer_minutes",
                                 "developer_temperature_c",
                                 "wash_agent",
                                 "wash_grams_per_litre",
                                 "wash_temperature_c",
                                 "wash_soak_minutes",
                                 "wash_rinses"};

struct Notebook {
    std::string path;
    char separator = ',';
    DateOrder order = DateOrder::year_first;
    std::map<std::string, Named> columns;  // our key -> their heading
};

Notebook read_settings(Fields& fields, const Draft& draft, Problems& problems) {
    Notebook book;
    if (const auto file = fields.required_text("file", "\"notebook.csv\""))
        book.path = (std::filesystem::path(draft.ledger.path).parent_path() / file->text).lexically_normal().string();
    if (const auto separator = fields.text("separator", "\";\"")) {
        if (separator->text.size() == 1 || separator->text == "tab")
            book.separator = separator->text == "tab" ? '\t' : separator->text[0];
        else
            problems.add(separator->place, "\"separator\" must be one character, or \"tab\"", "for example \";\"");
    }
    if (const auto order = fields.text("dates", "\"day.month.year\"")) {
        if (order->text == "year-month-day" || order->text == "day.month.year" || order->text == "month/day/year")
            book.order = order->text[0] == 'y' ? DateOrder::year_first : order->text[0] == 'd' ? DateOrder::day_first : DateOrder::month_first;
        else
            problems.add(order->place, fmt::format("\"dates\" is {}", in_quotes(order->text)),
                         "write \"year-month-day\", \"day.month.year\" or \"month/day/year\"");
    }
    const char* example = "columns = { roll = \"Film no.\", date = \"Developed\" }";
    if (const toml::table* table = fields.table("columns", example)) {
        Fields columns(*table, "the columns of " + fields.owner(), place_of(*table), problems);
        for (const char* key : kKeys)
            if (const auto heading = std::string_view(key) == "roll" ? columns.required_text(key, "\"Film no.\"") : columns.text(key, "\"Heading\""))
                book.columns[key] = *heading;
        columns.reject_unknown();
    } else {
        fields.missing("columns", example);
    }
    return book;
}

/// One row's cells by our keys, noting what is wrong in them.
class RowReader {
public:
    RowReader(const Row& row, const std::map<std::string, std::size_t>& places, Problems& problems) : row_(row), places_(places), problems_(problems) {}
    [[nodiscard]] std::string text(const std::string& key) const {
        const auto place = places_.find(key);
        return place == places_.end() || place->second >= row_.cells.size() ? std::string() : row_.cells[place->second];
    }
    [[nodiscard]] std::optional<double> number(const std::string& key, double low, double high) {
        const std::string cell = text(key);
        if (cell.empty()) return std::nullopt;
        const auto value = number_in_cell(cell);
        if (value && *value >= low && *value <= high) return value;
        problems_.add(place(key), fmt::format("{} is {}, which is no number from {} to {}", key, in_quotes(cell), low, high),
                      "correct the cell, or leave it empty");
        return std::nullopt;
    }
    [[nodiscard]] std::optional<int> whole(const std::string& key, double low, double high) {
        const auto value = number(key, low, high);
        return value ? std::optional(static_cast<int>(*value)) : std::nullopt;
    }
    [[nodiscard]] std::optional<Date> date(const std::string& key, DateOrder order) {
        const std::string cell = text(key);
        if (cell.empty()) return std::nullopt;
        const auto value = date_in_order(cell, order);
        if (!value)
            problems_.add(place(key), fmt::format("{} is {}, which is no day of the calendar", key, in_quotes(cell)),
                          "see \"dates\" of the notebook in the ledger");
        return value;
    }
    [[nodiscard]] Place place(const std::string& key) const {
        const auto found = places_.find(key);
        return {row_.line, found == places_.end() ? 1 : static_cast<int>(found->second) + 1};
    }

private:
    const Row& row_;
    const std::map<std::string, std::size_t>& places_;
    Problems& problems_;
};

std::optional<Celsius> celsius(std::optional<double> number) { return number ? std::optional(Celsius(*number)) : std::nullopt; }

/// Rows of one day and bath are one session, unless the notebook names sessions.
std::string session_name(RowReader& cells, std::optional<Date> date) {
    if (const std::string named = cells.text("session"); !named.empty()) return named;
    if (!date) return {};
    const std::string bath = cells.text("bath");
    return to_string(*date) + (bath.empty() ? "" : " " + bath);
}

Session session_of(RowReader& cells, const std::string& id, std::optional<Date> date) {
    Session session;
    session.id = id;
    session.date = date;
    session.bath = cells.text("bath");
    session.process = cells.text("process");
    session.developer_minutes = cells.number("developer_minutes", 0.1, 120);
    session.developer_temperature = celsius(cells.number("developer_temperature_c", 10, 60));
    BackingWash wash;
    wash.agent = cells.text("wash_agent");
    wash.grams_per_litre = cells.number("wash_grams_per_litre", 0.1, 1000);
    wash.temperature = celsius(cells.number("wash_temperature_c", 0, 60));
    wash.soak_minutes = cells.number("wash_soak_minutes", 0, 120);
    wash.rinses = cells.whole("wash_rinses", 0, 50);
    if (wash != BackingWash{}) session.wash = wash;
    return session;
}

template <class T>
void add_named(std::vector<T>& all, const std::string& id) {
    if (id.empty() || std::any_of(all.begin(), all.end(), [&](const T& one) { return one.id == id; })) return;
    T one;
    one.id = id;
    all.push_back(std::move(one));
}

/// What the ledger itself describes outranks the notebook; stocks and baths it only mentions are taken as they are called.
void add_row(RowReader cells, const Notebook& book, Ledger& ledger, Problems& problems) {
    const std::string id = cells.text("roll");
    if (id.empty() || !check_name(id, "a roll's name", cells.place("roll"), problems)) return;
    if (ledger.find_roll(id) != nullptr) return;
    const auto date = cells.date("date", book.order);
    Roll roll;
    roll.id = id;
    roll.stock = cells.text("stock");
    roll.session = session_name(cells, date);
    roll.rating = cells.number("rating", 0.1, 102400);
    roll.tank = cells.text("tank");
    roll.reel = cells.whole("reel", 1, 20);
    roll.note = cells.text("note");
    for (const auto& [key, name] : {std::pair("stock", roll.stock), std::pair("session", roll.session), std::pair("bath", cells.text("bath"))})
        if (!name.empty() && !check_name(name, fmt::format("a {}'s name", key), cells.place(key), problems)) return;
    add_named(ledger.stocks, roll.stock);
    add_named(ledger.baths, cells.text("bath"));
    if (!roll.session.empty() && ledger.find_session(roll.session) == nullptr) ledger.sessions.push_back(session_of(cells, roll.session, date));
    ledger.rolls.push_back(std::move(roll));
}

Result<void> read_rows(const Notebook& book, Ledger& ledger) {
    const auto text = read_text_file(book.path);
    if (!text) return Failure(text.error());
    if (find_invalid_utf8(*text)) return fail(ErrorCode::malformed, "this notebook is not UTF-8 text", book.path, "save it as UTF-8 CSV");
    const std::vector<Row> rows = split_csv(*text, book.separator);
    if (rows.empty()) return fail(ErrorCode::malformed, "this notebook is empty", book.path, "its first line must hold the columns' headings");
    if (rows.size() > kMostRows) return fail(ErrorCode::too_large, fmt::format("this notebook has more than {} rows", kMostRows), book.path, "split it");
    Problems problems;
    std::map<std::string, std::size_t> places;
    for (const auto& [key, heading] : book.columns) {
        const auto found = std::find(rows[0].cells.begin(), rows[0].cells.end(), heading.text);
        if (found == rows[0].cells.end())
            problems.add({rows[0].line, 1}, fmt::format("no column is headed {}, where the ledger looks for \"{}\"", in_quotes(heading.text), key),
                         "write the heading as it stands in the file, and check \"separator\"");
        else
            places[key] = static_cast<std::size_t>(found - rows[0].cells.begin());
    }
    if (problems.empty())
        for (std::size_t i = 1; i < rows.size(); ++i) add_row(RowReader(rows[i], places, problems), book, ledger, problems);
    if (!problems.empty()) return Failure(problems.to_error(book.path));
    return {};
}

}  // namespace

Result<void> read_notebooks(Fields& root, Draft& draft, Problems& problems) {
    const toml::table* all = root.table("notebook", "[notebook.old]");
    if (!all) return {};
    for (const Entry& entry : entries_in_order(*all)) {
        const std::string owner = "notebook " + in_quotes(entry.name);
        if (!entry.value->is_table()) {
            problems.add(entry.place, fmt::format("{} is {}, but must be a table", owner, type_in_words(*entry.value)),
                         "write [notebook.NAME] on a line of its own");
            continue;
        }
        Fields fields(*entry.value->as_table(), owner, entry.place, problems);
        const Notebook book = read_settings(fields, draft, problems);
        fields.reject_unknown();
        if (book.path.empty() || !problems.empty()) continue;
        const std::size_t rolls = draft.ledger.rolls.size(), sessions = draft.ledger.sessions.size();
        if (auto read = read_rows(book, draft.ledger); !read) return read;
        for (std::size_t i = rolls; i < draft.ledger.rolls.size(); ++i) draft.given.push_back({"roll " + in_quotes(draft.ledger.rolls[i].id), entry.place});
        for (std::size_t i = sessions; i < draft.ledger.sessions.size(); ++i) {
            draft.given.push_back({"session " + in_quotes(draft.ledger.sessions[i].id), entry.place});
            draft.session_dates.push_back(entry.place);
        }
    }
    return {};
}

}  // namespace basefog::ledger_room
