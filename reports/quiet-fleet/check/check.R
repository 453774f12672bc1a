# Work out the figures of a report again from its table of lives, and say which agree.
#
#     Rscript check.R [FOLDER]
#
# FOLDER holds lives.csv and check/answers.csv; without it, the folder above this script. It needs
# R 3.6 or later; where the recommended package survival is there, the counted curve comes from it.
# Nothing of the program that made the report is used. Exit code 0: all agree; 1: one does not, or
# is missing; 2: the files cannot be read.
#
# A life is at risk at hours t when entry < t <= exit. A failure known only between two checks has
# exit_low_h < exit_high_h; where it must be counted at an age, it is counted at the middle.

needed <- c("lives", "failures", "hours", "oldest_h", "horizon_h", "start_h")
counts <- c(needed, "engines", "failures_between", "competing", "reached", "hours_past")
fitted <- c("shape", "scale_h", "log_likelihood", "life_h")
limits <- as.vector(outer(c("shape", "scale_h", "life_h"), c("low", "high"), paste, sep = "."))
tolerance <- c("count" = 1e-9, "product-limit" = 1e-9, "assumed-shape" = 1e-9,
               "engines-counted" = 1e-8,  # qbeta
               "weibull" = 1e-6, "profile" = 1e-6,  # maxima and crossings found by search
               "open-shapes" = 1e-8)  # hours powered by each shape are summed otherwise there
shapes <- log(c(0.05, 60))
farthest <- 1000  # a limit past so many times the oldest age is none

refuse <- function(...) {
  cat("Cannot check: ", ..., ".\n", sep = "")
  quit(status = 2)
}
say <- function(...) cat(gsub("[^[:print:]]", "?", paste0(...)), "\n", sep = "")

# ---------------------------------------------------------------- reading

find_folder <- function() {
  asked <- commandArgs(trailingOnly = TRUE)
  flag <- grep("^--file=", commandArgs(), value = TRUE)
  here <- if (length(flag)) dirname(normalizePath(sub("^--file=", "", flag[1]))) else "."
  tried <- if (length(asked)) c(asked[1], file.path(asked[1], "report")) else
    c(dirname(here), here, ".")
  found <- tried[file.exists(file.path(tried, "lives.csv"))]
  if (!length(found)) refuse("no lives.csv in ", paste(tried, collapse = ", "))
  found[1]
}

table_of <- function(path) {
  if (!file.exists(path)) refuse(basename(path), " is not there")
  tryCatch(read.csv(path, colClasses = "character", na.strings = character(),
                    encoding = "UTF-8", check.names = FALSE),
           error = function(e) refuse(basename(path), " cannot be read: ", conditionMessage(e)))
}

numbers <- function(table, column, rows, path) {
  if (is.null(table[[column]])) refuse(path, " has no column ", column)
  x <- suppressWarnings(as.numeric(table[[column]][rows]))
  bad <- which(!is.finite(x))
  if (length(bad)) {
    refuse(path, ", row ", rows[bad[1]] + 1, ", column ", column, ": '",
           table[[column]][rows[bad[1]]], "' is no number")
  }
  x
}

read_lives <- function(path) {
  t <- table_of(path)
  rows <- which(startsWith(t$use, "counted"))
  d <- list(engine = t$engine[rows], event = t$event[rows], other = nrow(t) - length(rows))
  for (column in c("entry_h", "exit_low_h", "exit_high_h", "weight")) {
    d[[column]] <- numbers(t, column, rows, "lives.csv")
  }
  d$failed <- d$event == "failed"
  ok <- d$event %in% c("failed", "running", "removed", "competing") &
    0 <= d$entry_h & d$entry_h <= d$exit_low_h & d$exit_low_h <= d$exit_high_h &
    d$entry_h < d$exit_high_h & d$weight > 0 & (d$failed | d$exit_low_h == d$exit_high_h)
  if (!all(ok)) refuse("lives.csv, row ", rows[which(!ok)[1]] + 1, ": not a life as it must be")
  d$end <- 0.5 * (d$exit_low_h + d$exit_high_h)
  d$between <- d$failed & d$exit_low_h < d$exit_high_h
  d
}

# ---------------------------------------------------------------- counting

at_risk <- function(d, end, t) {
  vapply(t, function(x) sum(d$weight[d$entry_h < x & x <= end]), 0)
}

count <- function(d, given) {
  ends <- sort(unique(d$exit_high_h))
  ends <- ends[at_risk(d, d$exit_high_h, ends) >= given[["least_at_risk"]]]
  out <- list(engines = sum(tapply(d$weight, d$engine, max)), lives = sum(d$weight),
              failures = sum(d$weight[d$failed]), failures_between = sum(d$weight[d$between]),
              competing = sum(d$weight[d$event == "competing"]),
              hours = sum(d$weight * (d$end - d$entry_h)), oldest_h = max(d$exit_high_h),
              horizon_h = if (length(ends)) max(ends) else 0)
  if (!is.null(given[["claimed_h"]])) {
    claim <- given[["claimed_h"]]
    out$reached <- at_risk(d, d$exit_high_h, claim)
    out$hours_past <- sum(d$weight * pmax(d$exit_low_h - pmax(d$entry_h, claim), 0))
  }
  out
}

curve_start <- function(d, least) {
  for (t in sort(unique(d$entry_h))) {
    inside <- sum(d$weight[d$entry_h <= t]) - sum(d$weight[d$end <= t])
    if (inside >= least * (1 - 1e-12)) return(t)
  }
  min(d$entry_h)
}

curve <- function(d, start, hours) {
  # share that reaches an age, and the cumulative hazard
  keep <- d$end > start
  if (!any(keep)) return(c(1, 0))
  if (requireNamespace("survival", quietly = TRUE)) {
    lives <- survival::Surv(pmax(d$entry_h, start)[keep], d$end[keep], d$failed[keep])
    f <- survival::survfit(lives ~ 1, weights = d$weight[keep], timefix = FALSE)
    s <- summary(f, times = hours, extend = TRUE)
    return(c(s$surv, s$cumhaz))
  }
  ages <- sort(unique(d$end[d$failed & keep & d$end <= hours]))
  n <- at_risk(d, d$end, ages)
  dead <- vapply(ages, function(x) sum(d$weight[d$failed & d$end == x]), 0)
  c(prod(pmax(n - dead, 0) / n), sum(dead / n))
}

# ---------------------------------------------------------------- Weibull

log_likelihood <- function(d, log_shape, log_scale) {
  b <- exp(log_shape)
  power <- function(x) exp(b * (log(x) - log_scale))
  start <- power(d$entry_h)
  low <- power(d$exit_low_h)
  rows <- start - low
  rows[d$between] <- rows[d$between] + log(-expm1(-(power(d$exit_high_h) - low)[d$between]))
  exact <- d$failed & !d$between
  rows[exact] <- rows[exact] + log_shape - log_scale +
    (b - 1) * (log(d$exit_high_h[exact]) - log_scale)
  total <- sum(d$weight * rows)
  if (is.finite(total)) total else -1e300
}

peak <- function(f, low, high) {
  # a grid, a search, then a parabola: place and height of the top
  grid <- seq(low, high, length.out = 41)
  i <- which.max(vapply(grid, f, 0))
  m <- optimize(f, c(grid[max(i - 1, 1)], grid[min(i + 1, 41)]), maximum = TRUE, tol = 2e-5)$maximum
  h <- 1e-4
  y <- c(f(m - h), f(m), f(m + h))
  bend <- y[1] - 2 * y[2] + y[3]
  at <- if (bend < 0) m + 0.5 * h * (y[1] - y[3]) / bend else m
  at <- min(max(at, low), high)
  c(at, max(y[2], f(at)))
}

over_scale <- function(d, theta) {
  ref <- log(max(d$exit_high_h))
  b <- exp(theta)
  p <- peak(function(v) log_likelihood(d, theta, ref - v / b), -25, 8)
  c(ref - p[1] / b, p[2])
}

over_shape <- function(d, log_age, level) {
  peak(function(t) log_likelihood(d, t, log_age - level / exp(t)), shapes[1], shapes[2])[2]
}

fit_weibull <- function(d, share) {
  p <- peak(function(t) over_scale(d, t)[2], shapes[1], shapes[2])
  scale <- over_scale(d, p[1])[1]
  fall <- log(-log(share))
  list(shape = exp(p[1]), scale_h = exp(scale), log_likelihood = p[2],
       life_h = exp(scale + fall / exp(p[1])), fall = fall)
}

limit <- function(d, fit, key, side, two_sided) {
  # a profile limit; NA where the likelihood does not fall far enough
  goal <- fit$log_likelihood - qchisq(two_sided, 1) / 2
  level <- if (key == "life_h") fit$fall else 0
  above <- function(x) {
    (if (key == "shape") over_scale(d, x)[2] else over_shape(d, x, level)) - goal
  }
  near <- log(fit[[key]])
  ends <- if (key == "shape") shapes else c(near - 40, log(farthest * max(d$exit_high_h)))
  sign <- if (side == "low") -1 else 1
  end <- if (side == "low") ends[1] else ends[2]
  step <- 0.1
  while (sign * (end - near) > 0) {
    far <- near + sign * min(step, abs(end - near))
    if (above(far) < 0) return(exp(uniroot(above, sort(c(near, far)), tol = 1e-11)$root))
    near <- far
    step <- 2 * step
  }
  NA
}

# ---------------------------------------------------------------- bounds for few failures

equivalents <- function(d, shape, hours) {
  sum(d$weight * ((d$exit_low_h / hours)^shape - (d$entry_h / hours)^shape))
}

assumed <- function(d, shape, given) {
  n <- equivalents(d, shape, given[["claimed_h"]])
  if (n == 0) 1 else -expm1(-qgamma(given[["one_sided"]], sum(d$weight[d$failed]) + 1) / n)
}

settled <- function(d, given) {
  # lives that settle the claim, and the upper bound from them (Clopper-Pearson)
  claim <- given[["claimed_h"]]
  dead <- sum(d$weight[d$failed & d$exit_low_h <= claim])
  ages <- unique(c(d$exit_low_h, d$entry_h))
  ages <- c(ages[ages > 0 & ages < claim], claim)
  here <- vapply(ages, function(x) sum(d$weight[d$failed & d$exit_low_h == x]), 0)
  passed <- min(at_risk(d, d$exit_low_h, ages) - here)
  if (passed <= 0) return(c(dead, 1))
  c(passed + dead, qbeta(given[["one_sided"]], dead + 1, passed))
}

open_shapes <- function(d, given, z) {
  # Each shape may use what its deviance, with a penalty outside the stated range, leaves of c z^2;
  # its Poisson bound stands at that deviate. The worst counts; also that with any number of the
  # youngest failures up to an age taken as running.
  ref <- max(d$exit_high_h)
  ends <- log(c(given[["shape_from"]], given[["shape_to"]]))
  tried <- c(given[["tried_from"]], given[["tried_to"]])
  even <- seq(tried[1], tried[2], length.out = given[["tried"]])
  theta <- sort(unique(c(even, pmin(pmax(ends, tried[1]), tried[2]))))
  power <- log(pmax(vapply(exp(theta), function(b) equivalents(d, b, ref), 0), 1e-300))
  o <- order(d$end[d$failed])
  age <- d$end[d$failed][o]
  seen <- d$exit_low_h[d$failed][o]
  w <- d$weight[d$failed][o]
  past <- pmax(ends[1] - theta, 0) + pmax(theta - ends[2], 0)
  rates <- list()
  since <- numeric()
  away <- 0
  repeat {
    keep <- seq_along(w) > away
    r <- sum(w[keep])
    like <- r * (theta - power) + sum(w[keep] * log(age[keep] / ref)) * exp(theta)
    deviance <- (past / 0.35)^2 / (1 + 2 * r) - 2 * like
    left <- (1 + 5 * r / (r + 8)^2) * z^2 - (deviance - min(deviance))
    rate <- rep(-Inf, length(theta))
    may <- left >= 0
    rate[may] <- log(qgamma(pnorm(sqrt(left[may])), r + 1)) - power[may]
    rates[[length(rates) + 1]] <- rate
    since <- c(since, if (away) max(seen[seq_len(away)]) else 0)
    if (away == length(w)) break
    # one by one up to 40, then in steps that grow by a fifth
    away <- min(length(w), if (away < 40) away + 1 else max(away + 1, floor(1.2 * away)))
  }
  function(hours) {
    worst <- do.call(pmax, rates[since <= hours])
    -expm1(-exp(min(max(worst + exp(theta) * log(hours / ref)), 700)))
  }
}

life_low <- function(high, p, ref) {
  # halving, since the bound may jump
  a <- 1e-6
  b <- 100 * ref
  for (i in 1:200) {
    m <- 0.5 * (a + b)
    if (high(m) > p) b <- m else a <- m
  }
  0.5 * (a + b)
}

# ---------------------------------------------------------------- the table

rule_of <- function(key) {
  name <- sub("@.*", "", key)
  if (key %in% limits) return("profile")
  if (key %in% fitted) return("weibull")
  if (name %in% c("product_limit", "cumulative_hazard", "start_h")) return("product-limit")
  if (key %in% c("settled", "failure_high_counted")) return("engines-counted")
  if (name %in% c("equivalents", "failure_high", "failure_high_any")) return("assumed-shape")
  if (key == "failure_high_open") return("open-shapes")
  if (key %in% counts) "count" else ""
}

figures_here <- function(d, given, asked) {
  start <- curve_start(d, given[["start_at_risk"]])
  out <- c(count(d, given), start_h = start)
  fit <- NULL
  if (any(asked %in% c(fitted, limits))) {
    fit <- fit_weibull(d, given[["life_share"]])
    out <- c(out, fit[fitted])
  }
  one_sided <- given[["one_sided"]]
  if (is.null(one_sided)) one_sided <- 0.5 * (1 + given[["two_sided"]])
  high <- if (!is.null(given[["tried"]])) open_shapes(d, given, qnorm(one_sided))
  for (key in asked) {
    name <- sub("@.*", "", key)
    at <- suppressWarnings(as.numeric(sub(".*@", "", key)))
    if (name == "product_limit") out[[key]] <- curve(d, start, at)[1]
    if (name == "cumulative_hazard") out[[key]] <- curve(d, start, at)[2]
    if (key %in% limits && !is.null(fit)) {
      part <- strsplit(key, ".", fixed = TRUE)[[1]]
      out[[key]] <- limit(d, fit, part[1], part[2], given[["two_sided"]])
    }
    if (key == "quoted_life_low" && !is.null(high)) {
      out[[key]] <- life_low(high, 1 - given[["life_share"]], max(d$exit_high_h))
    }
    if (is.null(given[["claimed_h"]])) next
    if (name == "equivalents") out[[key]] <- equivalents(d, at, given[["claimed_h"]])
    if (name == "failure_high") out[[key]] <- assumed(d, at, given)
  }
  if (!is.null(given[["claimed_h"]])) {
    listed <- as.numeric(sub(".*@", "", grep("^equivalents@", asked, value = TRUE)))
    if (length(listed)) {
      grid <- exp(seq(log(min(listed)), log(max(listed)), length.out = 61))
      out$failure_high_any <- max(vapply(c(listed, grid), function(b) assumed(d, b, given), 0))
    }
    counted <- settled(d, given)
    out$settled <- counted[1]
    out$failure_high_counted <- counted[2]
    if (!is.null(high)) out$failure_high_open <- high(given[["claimed_h"]])
  }
  out
}

compare <- function(d, given, told) {
  here <- figures_here(d, given, told$key)
  wrong <- setdiff(needed, told$key)
  if (sum(d$failed) && !any(c("shape", "no_fit") %in% told$key)) wrong <- c(wrong, "shape")
  same <- c("open-shapes" = "failure_high_open", "engines-counted" = "failure_high_counted")
  left <- character()
  line <- "%-58s %16s %16s %11s  %s"
  say(sprintf(line, "figure", "report", "here", "difference", "agrees"))
  for (i in seq_len(nrow(told))) {
    key <- told$key[i]
    rule <- told$rule[i]
    known <- rule_of(key)
    quoted <- startsWith(key, "quoted_")
    if (rule == "not-checked" && known == "") {
      left <- c(left, told$label[i])
      next
    }
    if (key == "quoted_failure_high") {
      here[key] <- if (rule %in% names(same)) here[same[[rule]]] else list(NULL)
    }
    x <- if (told$value[i] == "") NA else numbers(told, "value", i, "answers.csv")
    y <- if (is.null(here[[key]])) NA else here[[key]]
    ok <- key %in% names(here) && rule == (if (quoted) rule else known) &&
      rule %in% names(tolerance)
    ok <- ok && (if (is.na(x) || is.na(y)) is.na(x) && is.na(y) else
      abs(x - y) <= tolerance[[rule]] * max(abs(x), abs(y), 1e-6))
    show <- function(v) if (is.na(v)) "none" else sprintf("%.9g", v)
    gap <- if (is.na(x) || is.na(y)) "" else sprintf("%.2g", y - x)
    say(sprintf(line, substr(told$label[i], 1, 58), show(x), show(y), gap, if (ok) "yes" else "NO"))
    if (!ok) wrong <- c(wrong, key)
  }
  say("")
  for (text in left) say("Not checked here: ", text, ".")
  wrong
}

folder <- find_folder()
lives <- read_lives(file.path(folder, "lives.csv"))
answers <- table_of(file.path(folder, "check", "answers.csv"))
if (!all(c("key", "label", "value", "rule") %in% names(answers))) {
  refuse("answers.csv has not the columns key, label, value and rule")
}
if (anyDuplicated(answers$key)) {
  refuse("answers.csv: '", answers$key[anyDuplicated(answers$key)], "' stands twice")
}
told <- answers[answers$rule != "given", ]
if (!length(lives$weight)) {
  say("No row of lives.csv counts, so there is nothing to check.")
  quit(status = if (nrow(told)) 1 else 0)
}
rows <- which(answers$rule == "given")
given <- as.list(numbers(answers, "value", rows, "answers.csv"))
names(given) <- answers$key[rows]
for (key in c("two_sided", "least_at_risk", "start_at_risk", "life_share", "shape_from",
              "shape_to", if (!is.null(given[["claimed_h"]])) "one_sided",
              if (!is.null(given[["tried"]])) c("tried_from", "tried_to"))) {
  if (is.null(given[[key]])) refuse("answers.csv: no row '", key, "' with the rule 'given'")
}
say("lives.csv: ", length(lives$weight), " rows count, ", lives$other, " do not.")
if (!any(lives$failed)) {
  say("Nothing failed, so there is no fit to check; the bounds for few failures are below.")
}
wrong <- compare(lives, given, told)
if (length(wrong)) {
  say("DOES NOT AGREE: ", paste(wrong, collapse = ", "), ".")
  quit(status = 1)
}
say("All figures above agree.")
