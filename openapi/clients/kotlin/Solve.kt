// Take readings, solve, show findings. The truck and its readings are invented.
//
// The models are generated (see openapi/README.md); kotlinx.serialization carries them, and the
// HTTP client is the one of the JDK, so that the same lines serve a shop system and Android's
// own client alike.

import kotlinx.serialization.json.Json
import org.openapitools.client.models.Axle
import org.openapitools.client.models.AxleRole
import org.openapitools.client.models.FrameGapReading
import org.openapitools.client.models.LengthUnit
import org.openapitools.client.models.Problem
import org.openapitools.client.models.Reading
import org.openapitools.client.models.SightlineReading
import org.openapitools.client.models.Solution
import org.openapitools.client.models.SolutionRequest
import org.openapitools.client.models.ToeScaleReading
import org.openapitools.client.models.Vehicle
import org.openapitools.client.models.VehicleKind
import java.net.URI
import java.net.http.HttpClient
import java.net.http.HttpRequest
import java.net.http.HttpResponse
import kotlin.system.exitProcess

// Answers are open: a field that a later version adds is no error.
val json = Json { ignoreUnknownKeys = true }

val readings =
    listOf(
        Reading.SightlineWrapper(
            SightlineReading(SightlineReading.Kind.sightline, axle = 2, left = "3 5/16", right = "3 9/16"),
        ),
        Reading.FrameGapWrapper(
            FrameGapReading(FrameGapReading.Kind.frame_gap, axle = 2, left = "30 1/8", right = "30 3/8"),
        ),
        Reading.ToeScaleWrapper(
            ToeScaleReading(ToeScaleReading.Kind.toe_scale, axle = 1, toe = "3/32", baseline = "40.2"),
        ),
    )

val vehicle =
    Vehicle(
        unit = VehicleKind.tractor,
        axles =
            listOf(
                Axle(number = 1, role = AxleRole.steer, distance = "0"),
                Axle(number = 2, role = AxleRole.drive, distance = "187 1/2"),
            ),
    )

fun post(
    url: String,
    body: String,
): HttpResponse<String> {
    val request =
        HttpRequest
            .newBuilder(URI(url))
            .header("Content-Type", "application/json")
            .POST(HttpRequest.BodyPublishers.ofString(body))
            .build()
    return HttpClient.newHttpClient().send(request, HttpResponse.BodyHandlers.ofString())
}

fun main(arguments: Array<String>) {
    val service = arguments.firstOrNull() ?: "http://127.0.0.1:8410"
    val request = SolutionRequest(LengthUnit.`in`, vehicle, readings)
    val answer = post("$service/v1/solutions", json.encodeToString(SolutionRequest.serializer(), request))
    if (answer.statusCode() != 200) {
        val problem = json.decodeFromString(Problem.serializer(), answer.body())
        // `type` is the stable name to branch on; `errors` says where and how to write it right.
        System.err.println("${problem.type}: ${problem.detail}")
        exitProcess(1)
    }
    val solution = json.decodeFromString(Solution.serializer(), answer.body())
    for (finding in solution.findings) println("${finding.verdict}: ${finding.text}")
}
