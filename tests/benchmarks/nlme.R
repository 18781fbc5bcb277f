# Fits the rise-and-fall curve of rise_and_fall.py as a nonlinear mixed model (Pinheiro & Bates
# 2000). Called with a folder: reads efforts.csv there, writes athletes.csv, fixed.csv, sizes.csv.
library(nlme)

phi <- function(z) expm1(z) - z

curve <- function(volume, level, log_best, log_gain, log_bend) {
  ratio <- volume * exp(-log_best)
  bend <- exp(pmin(pmax(log_bend, -3), 4))
  ahead <- bend * (1 - ratio)
  change <- -exp(log_gain) * phi(ahead) / phi(bend)
  steep <- -exp(log_gain) * expm1(ahead)
  gradient <- cbind(
    level = 1,
    log_best = steep * bend * ratio / phi(bend),
    log_gain = change,
    log_bend = steep * ahead / phi(bend) - change * expm1(bend) * bend / phi(bend)
  )
  value <- level + change
  attr(value, "gradient") <- gradient
  value
}

folder <- commandArgs(trailingOnly = TRUE)[1]
efforts <- read.csv(file.path(folder, "efforts.csv"), stringsAsFactors = TRUE)
start <- c(
  level = mean(efforts$y), log_best = mean(log1p(efforts$volume)),
  log_gain = log(0.06), log_bend = log(2)
)

# The richest set of random coefficients that converges.
choices <- list(
  level + log_best + log_gain + log_bend ~ 1,
  level + log_best + log_gain ~ 1,
  level + log_best ~ 1,
  level ~ 1
)
fit <- NULL
searching <- proc.time()[["elapsed"]]
for (random in choices) {
  # The seconds told are those of the choice that worked, in nlme's favour; the whole search beside.
  began <- proc.time()[["elapsed"]]
  fit <- tryCatch(
    nlme(
      y ~ curve(volume, level, log_best, log_gain, log_bend),
      data = efforts,
      fixed = level + log_best + log_gain + log_bend ~ 1,
      random = list(athlete = pdDiag(random), session = pdDiag(level ~ 1)),
      start = start,
      control = nlmeControl(maxIter = 20, pnlsMaxIter = 15, msMaxIter = 100)
    ),
    error = function(problem) NULL
  )
  seconds <- proc.time()[["elapsed"]] - began
  if (!is.null(fit)) break
}
searched <- proc.time()[["elapsed"]] - searching
if (is.null(fit)) stop("nlme did not converge for any choice of random coefficients")

names <- c("level", "log_best", "log_gain", "log_bend")
own <- coef(fit, level = 1)
write.csv(data.frame(athlete = rownames(own), own[, names]), file.path(folder, "athletes.csv"),
          row.names = FALSE)
write.csv(vcov(fit)[names, names], file.path(folder, "fixed.csv"), row.names = FALSE)
spread <- sapply(as.matrix(fit$modelStruct$reStruct$athlete) |> diag() |> as.list(), sqrt)
across <- setNames(rep(0, 4), names)
across[names(spread)] <- spread * fit$sigma
between <- sqrt(as.matrix(fit$modelStruct$reStruct$session)[1, 1]) * fit$sigma
write.csv(data.frame(t(across), effort = fit$sigma, session = between, seconds = seconds,
                     searched = searched, random = length(spread)),
          file.path(folder, "sizes.csv"), row.names = FALSE)
