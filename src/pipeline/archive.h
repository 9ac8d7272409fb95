// SPDX-License-Identifier: GPL-3.0-or-later
// Values to bytes and back, field by field: for what a later run takes over, and for digests of what results depend on. Bytes mean something to
// the same version of the program only.
#pragma once

#include "record_fields.h"

#include "basefog/core/assert.h"

#include <array>
#include <cstring>
#include <optional>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <vector>

namespace basefog::pipeline {

template <class T>
concept Plain = std::is_arithmetic_v<T> || std::is_enum_v<T> || std::is_same_v<T, Date>;

/// Appends values to a string of bytes.
class ArchiveWriter {
public:
    template <class... T>
    void operator()(const T&... values) {
        (put(values), ...);
    }
    [[nodiscard]] const std::string& bytes() const { return bytes_; }

private:
    void put(const std::string& text) {
        put(text.size());
        bytes_ += text;
    }
    /// Of what is in memory still.
    void put(const KeptBytes& kept) {
        const auto bytes = kept.read();
        BASEFOG_ASSERT(bytes);
        put(*bytes);
    }
    template <Plain T>
    void put(const T& value) {
        bytes_.append(reinterpret_cast<const char*>(&value), sizeof value);
    }
    template <class Tag>
    void put(const Quantity<Tag>& quantity) {
        put(quantity.value());
    }
    template <class A, class B>
    void put(const std::pair<A, B>& pair) {
        (*this)(pair.first, pair.second);
    }
    template <class T>
    void put(const std::optional<T>& value) {
        put(value.has_value());
        if (value) put(*value);
    }
    template <class T, std::size_t N>
    void put(const std::array<T, N>& values) {
        for (const T& value : values) put(value);
    }
    template <class T>
    void put(const std::vector<T>& values) {
        put(values.size());
        for (const T& value : values) put(value);
    }
    template <class T>
    void put(const T& record) {
        fields_of(record, *this);
    }
    std::string bytes_;
};

/// Takes values off bytes in the order they were written. Too few bytes leave the rest as it was and `good()` false.
class ArchiveReader {
public:
    explicit ArchiveReader(std::string_view bytes) : bytes_(bytes) {}
    template <class... T>
    void operator()(T&... values) {
        (get(values), ...);
    }
    [[nodiscard]] bool good() const { return good_; }
    [[nodiscard]] bool at_end() const { return bytes_.empty(); }

private:
    std::string_view take(std::size_t n) {
        if (n > bytes_.size()) good_ = false;
        if (!good_) return {};
        const std::string_view taken = bytes_.substr(0, n);
        bytes_.remove_prefix(n);
        return taken;
    }
    /// A count of things that take a byte at least.
    std::size_t count() {
        std::size_t n = 0;
        get(n);
        if (n > bytes_.size()) good_ = false;
        return good_ ? n : 0;
    }
    void get(std::string& text) { text = take(count()); }
    void get(KeptBytes& kept) { kept = std::string(take(count())); }
    template <Plain T>
    void get(T& value) {
        if (const std::string_view taken = take(sizeof value); good_) std::memcpy(&value, taken.data(), sizeof value);
    }
    template <class Tag>
    void get(Quantity<Tag>& quantity) {
        double value = 0;
        get(value);
        quantity = Quantity<Tag>(value);
    }
    template <class A, class B>
    void get(std::pair<A, B>& pair) {
        (*this)(pair.first, pair.second);
    }
    template <class T>
    void get(std::optional<T>& value) {
        bool some = false;
        get(some);
        value.reset();
        if (some) get(value.emplace());
    }
    template <class T, std::size_t N>
    void get(std::array<T, N>& values) {
        for (T& value : values) get(value);
    }
    template <class T>
    void get(std::vector<T>& values) {
        values.resize(count());
        for (T& value : values) get(value);
    }
    template <class T>
    void get(T& record) {
        fields_of(record, *this);
    }
    std::string_view bytes_;
    bool good_ = true;
};

}  // namespace basefog::pipeline
